//! TLS towards a watcher, with a certificate of our own.

use std::net::IpAddr;
use std::path::PathBuf;

use coldbed_mock::fault::CertificateKind;
use coldbed_mock::server::Tls;

use super::{Failure, authority_file};
use crate::exit_code::Outcome;

/// Is a good certificate, and the file that tells a watcher which authority to trust.
pub(super) struct OwnTls {
    tls: Tls,
    file: PathBuf,
}

impl OwnTls {
    /// Makes it for a listener on that address, if a file is named.
    ///
    /// # Errors
    /// [`Outcome::OwnFault`] if no certificate can be made.
    pub(super) fn make(file: Option<PathBuf>, address: IpAddr) -> Result<Option<Self>, Failure> {
        let made = file.map(|file| {
            let tls = Tls::new(CertificateKind::Good, address)
                .map_err(|error| Failure::new(Outcome::OwnFault, error))?;
            Ok(Self { tls, file })
        });
        made.transpose()
    }

    /// Gives what speaks it.
    pub(super) fn acceptor(&self) -> coldbed_session::Tls {
        coldbed_session::Tls(self.tls.acceptor())
    }

    /// Writes the file.
    ///
    /// # Errors
    /// [`Outcome::BadInput`] if it cannot be written, or is another's.
    pub(super) fn write_authority(&self) -> Result<(), Failure> {
        authority_file::write(&self.file, self.tls.authority_pem()).map_err(Failure::bad_input)
    }
}
