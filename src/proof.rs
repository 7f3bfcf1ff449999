//! placeholder
use crate::fault::Fault;
use crate::run::Planned;
use crate::stock::Stock;
use crate::words::Words;
pub struct Difference;
impl Difference { pub fn fault(self, _: &str) -> Fault { Fault::new("","") } }
pub fn prove(_: &[u8], _: crate::run::FileKind, _: &Planned, _: &Stock, _: &Words, _: &Words) -> Vec<Difference> { Vec::new() }
