//! What is given to the program by mistake or in bad faith, and how it ends: with
//! the kit as it should be, or with a fault that says what is wrong and where.
//!
//! Each input is given to the program itself, which may use a bounded memory and must
//! end within a minute, with an exit code of its own: never by a panic (101), a
//! signal, or a stack that overflows.
//!
//! What the rules are is common practice and of no source, but where one is named.

mod common;

#[path = "hostile/bench.rs"]
mod bench;
#[path = "hostile/books.rs"]
mod books;
#[path = "hostile/exports.rs"]
mod exports;
#[path = "hostile/logos.rs"]
mod logos;
#[path = "hostile/orders.rs"]
mod orders;
#[path = "hostile/places.rs"]
mod places;
