//! Makes the certificates.

use std::net::{IpAddr, Ipv4Addr, Ipv6Addr};
use std::time::SystemTime;

use rcgen::{
    BasicConstraints, CertificateParams, DnType, ExtendedKeyUsagePurpose, IsCa, Issuer, KeyPair,
    KeyUsagePurpose,
};
use rustls::pki_types::{CertificateDer, PrivateKeyDer, PrivatePkcs8KeyDer};
use time::{Duration, OffsetDateTime};

use crate::fault::CertificateKind;

/// How long before now the authority is valid, and how long after.
///
/// Chosen: more than any certificate below, so that only what is meant to be wrong is.
const AUTHORITY: (Duration, Duration) = (Duration::days(60), Duration::days(365));

/// The same of a good certificate. A day back, for devices whose clock is behind; a host that runs
/// for three months has been forgotten.
const GOOD: (Duration, Duration) = (Duration::days(1), Duration::days(90));

/// The same of an expired one, which ended a day ago: no time zone makes up for that.
const EXPIRED: (Duration, Duration) = (Duration::days(30), Duration::days(-1));

/// Is an authority, and another one that nobody trusts.
pub(super) struct Authority {
    issuer: Issuer<'static, KeyPair>,
    other: Issuer<'static, KeyPair>,
    /// Its certificate, for clients that are to trust it.
    pub(super) pem: String,
    now: OffsetDateTime,
}

impl Authority {
    /// Makes an authority.
    ///
    /// # Source
    /// RFC 5280 section 4.2.1.9: an authority says that it is one.
    pub(super) fn make(now: SystemTime) -> Result<Self, rcgen::Error> {
        let now = OffsetDateTime::from(now);
        let (issuer, pem) = authority("coldbed mock authority", now)?;
        let (other, _) = authority("another coldbed authority", now)?;
        Ok(Self {
            issuer,
            other,
            pem,
            now,
        })
    }

    /// Makes a certificate with its key.
    ///
    /// # Source
    /// RFC 5280: section 4.2.1.3 and 4.2.1.12 (what a key is for), section 4.2.1.1 (the issuer's key
    /// is named). RFC 9110 section 4.3.4 and RFC 6125: the host is named in the alternative names.
    pub(super) fn certificate(
        &self,
        kind: CertificateKind,
        listen: IpAddr,
    ) -> Result<(CertificateDer<'static>, PrivateKeyDer<'static>), rcgen::Error> {
        let issuer = match kind {
            CertificateKind::UnknownIssuer => &self.other,
            _ => &self.issuer,
        };
        let mut params = CertificateParams::new(names(kind, listen))?;
        let validity = match kind {
            CertificateKind::Expired => EXPIRED,
            _ => GOOD,
        };
        valid(&mut params, self.now, validity);
        params
            .distinguished_name
            .push(DnType::CommonName, "coldbed mock host");
        params.use_authority_key_identifier_extension = true;
        params.key_usages = vec![KeyUsagePurpose::DigitalSignature];
        params.extended_key_usages = vec![ExtendedKeyUsagePurpose::ServerAuth];
        let key = KeyPair::generate()?;
        let certificate = params.signed_by(&key, issuer)?;
        let key = PrivatePkcs8KeyDer::from(key.serialize_der()).into();
        Ok((certificate.der().clone(), key))
    }
}

fn authority(
    name: &str,
    now: OffsetDateTime,
) -> Result<(Issuer<'static, KeyPair>, String), rcgen::Error> {
    let mut params = CertificateParams::default();
    params.distinguished_name.push(DnType::CommonName, name);
    params.is_ca = IsCa::Ca(BasicConstraints::Constrained(0));
    params.key_usages = vec![KeyUsagePurpose::KeyCertSign, KeyUsagePurpose::CrlSign];
    valid(&mut params, now, AUTHORITY);
    let key = KeyPair::generate()?;
    let pem = params.self_signed(&key)?.pem();
    Ok((Issuer::new(params, key), pem))
}

fn valid(
    params: &mut CertificateParams,
    now: OffsetDateTime,
    (before, after): (Duration, Duration),
) {
    params.not_before = now - before;
    params.not_after = now + after;
}

fn names(kind: CertificateKind, listen: IpAddr) -> Vec<String> {
    if kind == CertificateKind::WrongName {
        // RFC 2606 section 2: `.invalid` is nobody's.
        return vec!["elsewhere.invalid".to_owned()];
    }
    let mut addresses = vec![
        IpAddr::from(Ipv4Addr::LOCALHOST),
        IpAddr::from(Ipv6Addr::LOCALHOST),
    ];
    if !listen.is_unspecified() && !addresses.contains(&listen) {
        addresses.push(listen);
    }
    let addresses = addresses.iter().map(IpAddr::to_string);
    std::iter::once("localhost".to_owned())
        .chain(addresses)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_address_listened_on_is_among_the_names_unless_it_stands_for_all() {
        let names = |listen: &str| names(CertificateKind::Good, listen.parse().unwrap());
        let loopback = ["localhost", "127.0.0.1", "::1"];
        assert_eq!(names("127.0.0.1"), loopback);
        assert_eq!(names("0.0.0.0"), loopback);
        assert_eq!(names("192.0.2.7")[3], "192.0.2.7");
    }
}
