//! Drives [`coldbed_fuzz::drift`].
#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| coldbed_fuzz::drift::target(bytes));
