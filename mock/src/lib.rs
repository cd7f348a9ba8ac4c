//! The printer that is not there.
//!
//! This crate owns the simulated printer and everything that puts it on the wire:
//! [`sim`] is the pure core (truth as a function of scenario, seed, commands and virtual time),
//! [`scenario`] turns text into a checked plan for it, [`dialect`] turns truth into bytes,
//! [`drift`] and [`fault`] are what goes wrong with bodies and connections, [`control`] is what is
//! changed from outside while it runs, and [`server`] is the one part with sockets and a clock.
//!
//! It does not judge clients: that is the `coldbed` crate.

pub mod control;
pub mod dialect;
pub mod drift;
pub mod fault;
mod pointer;
pub mod scenario;
pub mod server;
pub mod sim;
