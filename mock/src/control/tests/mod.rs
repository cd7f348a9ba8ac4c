mod gate;
mod log;
mod remembered;
