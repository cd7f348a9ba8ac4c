//! Drives [`coldbed_fuzz::session`].
#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| coldbed_fuzz::session::target(bytes));
