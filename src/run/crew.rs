//! Spreads work over threads and hands the results back in order.

use std::collections::BTreeMap;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::mpsc;

use crate::fault::Fault;
use crate::typeset::STACK;
use crate::workshop::{Setup, Workshop};

/// Does `job` for each number below `count` on `threads` threads, each with a
/// workshop of its own, and hands each result to `done`: in the order of the
/// numbers, whichever is finished first. No new job begins once `stop` is set
/// or `done` fails.
///
/// # Errors
///
/// That of the first `done` or `job` to fail; a fault if a thread cannot be
/// started or ends on a mistake of the program.
pub fn work<T: Send>(
    setup: &Setup,
    threads: usize,
    count: usize,
    stop: &AtomicBool,
    job: impl Fn(&mut Workshop, usize) -> Result<T, Vec<Fault>> + Sync,
    mut done: impl FnMut(usize, T) -> Result<(), Vec<Fault>>,
) -> Result<(), Vec<Fault>> {
    let next = AtomicUsize::new(0);
    let halt = AtomicBool::new(false);
    let (sender, receiver) = mpsc::channel();
    std::thread::scope(|scope| {
        let mut workers = Vec::new();
        for _ in 0..threads.clamp(1, count.max(1)) {
            let (sender, next, halt, job) = (sender.clone(), &next, &halt, &job);
            let setup = setup.clone();
            let worker = std::thread::Builder::new().stack_size(STACK).spawn_scoped(
                scope,
                move || {
                    // The typesetter spreads its work over whatever pool it finds:
                    // in one of a single thread it stays here, which is faster
                    // and keeps its recursion on this stack.
                    let pool = rayon::ThreadPoolBuilder::new()
                        .num_threads(1)
                        .use_current_thread()
                        .build();
                    let mut shop = Workshop::with(setup);
                    loop {
                        if stop.load(Ordering::Relaxed) || halt.load(Ordering::Relaxed) {
                            break;
                        }
                        let index = next.fetch_add(1, Ordering::Relaxed);
                        if index >= count {
                            break;
                        }
                        let result = job(&mut shop, index);
                        if sender.send((index, result)).is_err() {
                            break;
                        }
                    }
                    drop(pool);
                },
            );
            match worker {
                Ok(worker) => workers.push(worker),
                Err(error) => {
                    halt.store(true, Ordering::Relaxed);
                    return Err(vec![Fault::new(
                        format!("cannot start a thread: {error}"),
                        "use fewer with --threads",
                    )]);
                }
            }
        }
        drop(sender);
        let mut waiting = BTreeMap::new();
        let mut expected = 0;
        let mut verdict = Ok(());
        for (index, result) in receiver {
            waiting.insert(index, result);
            while let Some(result) = waiting.remove(&expected) {
                if verdict.is_ok() {
                    verdict = result.and_then(|result| done(expected, result));
                }
                expected += 1;
            }
            if verdict.is_err() {
                halt.store(true, Ordering::Relaxed);
            }
        }
        let died = workers.into_iter().any(|worker| worker.join().is_err());
        if died && verdict.is_ok() {
            return Err(vec![Fault::new(
                "a part of the run ended on a mistake in the program",
                "what is whole stays; please report it, and go on with --resume",
            )]);
        }
        verdict
    })
}
