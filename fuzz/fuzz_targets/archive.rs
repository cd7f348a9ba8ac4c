//! Drives [`coldbed_fuzz::archive`].
#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| coldbed_fuzz::archive::target(bytes));
