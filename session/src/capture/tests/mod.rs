//! Captures that are built here, of invented traffic.

mod anything;
mod build;
mod exchanges;
mod files;
mod streams;
