//! An allocator that counts, and ends the run when an input takes more memory than
//! any should.
//!
//! libFuzzer looks at the memory once a second, which a short peak escapes.

use std::alloc::{GlobalAlloc, Layout, System};
use std::sync::atomic::{AtomicUsize, Ordering::Relaxed};

/// The most that may be in use at once, in bytes; a workbook may unpack to a quarter
/// of it.
const MOST: usize = 1024 * 1024 * 1024;

static IN_USE: AtomicUsize = AtomicUsize::new(0);

/// The system's allocator, weighed.
pub struct Weighed;

fn add(size: usize) {
    let before = IN_USE.fetch_add(size, Relaxed);
    if before + size > MOST {
        // A panic would allocate.
        IN_USE.store(0, Relaxed);
        eprintln!("law: {size} bytes more than the {before} in use are asked for");
        std::process::abort();
    }
}

// SAFETY: every call is passed on to the system's allocator as it came.
unsafe impl GlobalAlloc for Weighed {
    unsafe fn alloc(&self, layout: Layout) -> *mut u8 {
        add(layout.size());
        unsafe { System.alloc(layout) }
    }

    unsafe fn dealloc(&self, memory: *mut u8, layout: Layout) {
        IN_USE.fetch_sub(layout.size(), Relaxed);
        unsafe { System.dealloc(memory, layout) }
    }

    unsafe fn alloc_zeroed(&self, layout: Layout) -> *mut u8 {
        add(layout.size());
        unsafe { System.alloc_zeroed(layout) }
    }

    unsafe fn realloc(&self, memory: *mut u8, layout: Layout, size: usize) -> *mut u8 {
        add(size);
        IN_USE.fetch_sub(layout.size(), Relaxed);
        unsafe { System.realloc(memory, layout, size) }
    }
}
