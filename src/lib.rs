//! Plans, typesets and proves the paperwork of a home specimen collection kit.
//!
//! Data moves one way, and a stage uses only those above it:
//!
//! order, protocol -> plan -> documents -> typeset -> proof -> output
//!
//! `workshop` holds what orders share and takes an order to its plan, `making`
//! takes plans to proven files, `command` carries out what the command line asks
//! for.

pub mod fault;
pub mod fields;

pub mod clock;
pub mod import;
pub mod lab;
pub mod medicine;
pub mod order;
pub mod protocol;
pub mod units;

pub mod days;
pub mod imposition;
pub mod plan;
pub mod specimen;
pub mod stock;

pub mod calendar;
pub mod document;
pub mod report;
pub mod words;

pub mod typeset;

pub mod proof;

pub mod input;
pub mod kept;
pub mod ledger;
pub mod making;
pub mod output;
pub mod run;
pub mod workshop;

pub mod cli;
pub mod command;
