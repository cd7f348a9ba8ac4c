//! Drives [`coldbed_fuzz::scenario`].
#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| coldbed_fuzz::scenario::target(bytes));
