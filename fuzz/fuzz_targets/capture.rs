//! Drives [`coldbed_fuzz::capture`].
#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| coldbed_fuzz::capture::target(bytes));
