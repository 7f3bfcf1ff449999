//! `kitwright new`: a commented order file to fill in.

use std::path::Path;

use super::{Outcome, complain, print};
use crate::cli::New;
use crate::output;

/// The order file; a test keeps it readable by the program.
pub const EXAMPLE: &str = include_str!("../../templates/order.toml");

pub(super) fn new(args: &New) -> Outcome {
    let Some(path) = args.file.as_ref().filter(|path| *path != Path::new("-")) else {
        return print(EXAMPLE);
    };
    match output::write_new(path, EXAMPLE.as_bytes()) {
        Ok(()) => print(&format!("wrote {}\n", path.display())),
        Err(fault) => complain(&[fault]),
    }
}
