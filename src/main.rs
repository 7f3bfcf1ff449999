//! Runs the command line; everything it does is in the library.

use std::process::ExitCode;

use clap::Parser;
use kitwright::cli::Cli;
use mimalloc::MiMalloc;

/// The typesetter asks for much memory in small pieces.
#[global_allocator]
static ALLOCATOR: MiMalloc = MiMalloc;

fn main() -> ExitCode {
    let cli = Cli::parse();
    kitwright::command::run(cli).into()
}
