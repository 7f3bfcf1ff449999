//! Runs the command line; everything it does is in the library.

use std::process::ExitCode;

use clap::Parser;
use kitwright::cli::Cli;
use mimalloc::MiMalloc;

/// The typesetter asks for much memory in small pieces.
#[global_allocator]
static ALLOCATOR: MiMalloc = MiMalloc;

fn main() -> ExitCode {
    leave_full_files_to_us();
    use_small_pages();
    let cli = Cli::parse();
    kitwright::command::run(cli).into()
}

/// A file that outgrows the limit of its user (`ulimit -f`) shall be a write that
/// fails, which is told, and not a signal that ends the program without a word. The
/// threads that are started later, and not the programs, have it from here.
#[cfg(unix)]
fn leave_full_files_to_us() {
    use nix::sys::signal::{SigSet, Signal};
    // If it cannot be done, the signal ends the program as before: no file is half.
    let _ = SigSet::from(Signal::SIGXFSZ).thread_block();
}

#[cfg(not(unix))]
fn leave_full_files_to_us() {}

/// With huge pages of memory (2 MB), what is given back in small pieces stays with the
/// program: a run takes a third less without them, in the same time.
#[cfg(target_os = "linux")]
fn use_small_pages() {
    // If it cannot be done, only memory is lost.
    let _ = nix::sys::prctl::set_thp_disable(true);
}

#[cfg(not(target_os = "linux"))]
fn use_small_pages() {}
