#![no_main]

kitwright_fuzz::target!(ledger);
