//! The kinds that leave the JSON value as it is and change its bytes.

mod body_bytes;
mod byte_order_mark;
mod corpus;
mod deep;
mod duplicate_member;
mod escapes;
mod garbage;
mod numbers;
mod odd_number;
mod odd_text;
mod trailing;
mod white_space;

pub use body_bytes::{EmptyBody, Truncated};
pub use byte_order_mark::ByteOrderMark;
pub use corpus::Corpus;
pub use deep::Deep;
pub use duplicate_member::{DuplicateMember, Position};
pub use escapes::{EscapedNames, NonAsciiEscaped};
pub use garbage::Garbage;
pub use numbers::{DecimalPoint, ExponentNumbers};
pub use odd_number::{HugeNumber, NotANumber};
pub use odd_text::{InvalidUtf8, LoneSurrogate, SurrogateHalf, SurrogatePlace};
pub use trailing::{TrailingComma, TrailingText};
pub use white_space::{Blank, Indented, Spaced};

/// Names the body that is changed as a whole because it has a place.
fn body_with(place: &str) -> String {
    if place.starts_with('/') {
        format!("the body with {place}")
    } else {
        place.to_owned()
    }
}
