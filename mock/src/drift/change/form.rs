//! The kinds that leave the body as it is and change how it is carried.

mod chunked;
mod field_names;
mod gzip;

pub use chunked::Chunked;
pub use field_names::FieldNames;
pub use gzip::Gzip;
