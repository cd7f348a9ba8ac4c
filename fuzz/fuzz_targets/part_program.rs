//! Drives [`coldbed_fuzz::part_program`].
#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| coldbed_fuzz::part_program::target(bytes));
