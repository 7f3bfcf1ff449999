use super::Outcome;
use crate::cli::Proof;
pub(super) fn proof(_: &Proof) -> Outcome { Outcome::Done }
