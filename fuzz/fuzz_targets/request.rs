//! Drives [`coldbed_fuzz::request`].
#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| coldbed_fuzz::request::target(bytes));
