//! Drives [`coldbed_fuzz::dialect`].
#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| coldbed_fuzz::dialect::target(bytes));
