//! `kitwright new`: a commented order file to fill in.

use super::{Outcome, complain, print};
use crate::cli::New;
use crate::fault::Fault;
use crate::output;

/// The order file; a test keeps it readable by the program.
pub const EXAMPLE: &str = include_str!("../../templates/order.toml");

pub(super) fn new(args: &New) -> Outcome {
    let Some(path) = &args.file else { return print(EXAMPLE) };
    if path.exists() {
        return complain(&[Fault::of_file(
            format!("cannot write {}: it is there already", path.display()),
            "give a name that is not taken",
        )]);
    }
    match output::write_whole(path, EXAMPLE.as_bytes()) {
        Ok(()) => print(&format!("wrote {}\n", path.display())),
        Err(fault) => complain(&[fault]),
    }
}
