//! What can be wrong with a certificate.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Says what is wrong with the certificate that a host shows, if anything.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum CertificateKind {
    /// Nothing: it is for localhost, 127.0.0.1, ::1 and the address listened on.
    #[default]
    Good,
    /// It was valid until yesterday; the authority still is.
    Expired,
    /// It is for another host only, `elsewhere.invalid`.
    WrongName,
    /// It was signed by another authority than the one given to clients.
    UnknownIssuer,
}
