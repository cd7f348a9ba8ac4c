//! The versions of one host's dialect: what an update changes on the wire.

use std::sync::Arc;

use super::Dialect;
use crate::scenario::Scenario;
use crate::sim::PrinterTruth;

/// Is a checked dialect file: one version or several, in the order of the file.
#[derive(Debug, Clone)]
pub struct DialectFile {
    versions: Vec<Arc<Dialect>>,
    /// The one that is served first.
    first: usize,
}

/// Says that a version is asked for that the file does not have.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("dialect `{dialect}` has no version {wanted} [it has: {known}]")]
pub struct UnknownVersion {
    /// The dialect.
    pub dialect: String,
    /// What was asked for: a name in quotes, or words such as "after 1.1".
    pub wanted: String,
    /// The versions there are, in order.
    pub known: String,
}

impl From<Dialect> for DialectFile {
    fn from(dialect: Dialect) -> Self {
        Self {
            versions: vec![Arc::new(dialect)],
            first: 0,
        }
    }
}

impl DialectFile {
    pub(super) fn new(versions: Vec<Dialect>) -> Self {
        Self {
            versions: versions.into_iter().map(Arc::new).collect(),
            first: 0,
        }
    }

    /// Gives the version that is served first.
    pub fn first(&self) -> &Arc<Dialect> {
        &self.versions[self.first]
    }

    /// Lists the versions in the order of the file.
    pub fn versions(&self) -> &[Arc<Dialect>] {
        &self.versions
    }

    /// Lets another version be served first.
    ///
    /// # Errors
    /// There is none of that name.
    pub fn starting_with(mut self, version: &str) -> Result<Self, UnknownVersion> {
        self.first = self.find(version)?;
        Ok(self)
    }

    /// Gives the version that a host speaks after its updates: the named one, or the next one for
    /// every update without a name, and the last one when there are no more.
    pub fn spoken(&self, printer: &PrinterTruth) -> &Arc<Dialect> {
        let named = printer
            .host_version
            .as_deref()
            .and_then(|name| self.find(name).ok());
        let place = named.unwrap_or_else(|| self.first + printer.host_updates as usize);
        &self.versions[place.min(self.versions.len() - 1)]
    }

    /// Gives the version that a request was matched by.
    pub fn of(&self, matched: &super::Matched) -> &Arc<Dialect> {
        // `Dialect::route` alone makes these, and it knows its place.
        &self.versions[matched.version.min(self.versions.len() - 1)]
    }

    /// Checks that there is a version for each update of a scenario.
    ///
    /// # Errors
    /// The first update there is none for. A dialect of one version fits every scenario whose
    /// updates have no name: nothing changes on its wire then.
    pub fn check_updates(&self, scenario: &Scenario) -> Result<(), UnknownVersion> {
        scenario
            .host_updates()
            .flatten()
            .try_for_each(|version| self.check_version(version))
    }

    /// Checks that there is a version.
    ///
    /// # Errors
    /// There is none of that name.
    pub fn check_version(&self, version: &str) -> Result<(), UnknownVersion> {
        self.find(version).map(drop)
    }

    fn find(&self, version: &str) -> Result<usize, UnknownVersion> {
        let place = self
            .versions
            .iter()
            .position(|known| known.version == version);
        place.ok_or_else(|| UnknownVersion {
            dialect: self.first().name.clone(),
            wanted: format!("`{version}`"),
            known: self
                .versions
                .iter()
                .map(|known| known.version.as_str())
                .collect::<Vec<_>>()
                .join(", "),
        })
    }
}
