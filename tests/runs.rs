//! Print runs as a user gives them: the piles they make, shards, going on after
//! a stop, the ledger, and printing. `tests/outside/runs.py` kills large runs at
//! random moments and reads them with other readers.

mod common;

#[path = "runs/desk.rs"]
mod desk;
#[path = "runs/faults.rs"]
mod faults;
#[path = "runs/ledgers.rs"]
mod ledgers;
#[cfg(unix)]
#[path = "runs/moved.rs"]
mod moved;
#[path = "runs/piles.rs"]
mod piles;
#[path = "runs/printers.rs"]
mod printers;
#[path = "runs/resuming.rs"]
mod resuming;
#[path = "runs/shards.rs"]
mod shards;
