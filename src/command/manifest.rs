//! `kitwright manifest`: one manifest of the shards of a run.

use super::{Outcome, complain, print};
use crate::cli::Manifest;
use crate::output;
use crate::run::manifest::join;

pub(super) fn manifest(args: &Manifest) -> Outcome {
    let bytes = match join(&args.folders) {
        Ok(bytes) => bytes,
        Err(faults) => return complain(&faults),
    };
    match &args.out {
        Some(path) => match output::write_new(path, &bytes) {
            Ok(()) => Outcome::Done,
            Err(fault) => complain(&[fault]),
        },
        None => print(&String::from_utf8_lossy(&bytes)),
    }
}
