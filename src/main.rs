//! Runs the command line; everything it does is in the library.

use std::process::ExitCode;

use clap::Parser;
use kitwright::cli::Cli;

fn main() -> ExitCode {
    let cli = Cli::parse();
    kitwright::command::run(cli).into()
}
