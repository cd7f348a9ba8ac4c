//! Each test starts a host on a port of its own and looks at the bytes a client gets.

mod announce;
mod answers;
mod commands;
mod common;
mod drifts;
mod faults;
mod keys;
mod lifetime;
mod limits;
mod own_host;
mod publish;
mod push;
mod push_long_poll;
mod push_patches;
mod push_restart;
mod push_stream;
mod push_websocket;
mod push_websocket_close;
mod restart;
mod seen;
mod turned_away;
