//! How a bench is reached from its network.

use std::io;
use std::net::{IpAddr, SocketAddr};
use std::sync::Arc;

use fettle_door::{Certificate, Door, DoorError, host_names, network_addresses};
use jiff::Timestamp;
use tokio_rustls::rustls::ServerConfig;
use tokio_rustls::rustls::crypto::ring;
use tokio_rustls::rustls::pki_types::pem::PemObject;
use tokio_rustls::rustls::pki_types::{CertificateDer, PrivateKeyDer};

/// How a bench is reached from its network: where it listens, under which names, with which certificate.
#[derive(Clone, Debug)]
pub struct Network {
    listens: SocketAddr,
    names: Vec<String>,
    certificate: Certificate,
    is_new: bool,
}

impl Network {
    /// A bench that listens there, with the certificate of its door; it is made when there is none.
    ///
    /// # Errors
    /// When the certificate cannot be read or made.
    pub fn at(listens: SocketAddr, door: &Door, now: Timestamp) -> Result<Self, DoorError> {
        let names = host_names();
        let mut certified = vec!["localhost".to_owned()];
        certified.extend(names.iter().cloned());
        let addresses = addresses(listens.ip());
        certified.extend(addresses.iter().map(ToString::to_string));
        for loopback in ["127.0.0.1", "::1"] {
            if !certified.iter().any(|name| name == loopback) {
                certified.push(loopback.to_owned());
            }
        }
        let (certificate, is_new) = door.certificate(&certified, now)?;
        Ok(Self {
            listens,
            names,
            certificate,
            is_new,
        })
    }

    /// SHA-256 of the certificate, as browsers write it.
    #[must_use]
    pub fn fingerprint(&self) -> &str {
        self.certificate.fingerprint()
    }

    /// Whether the certificate was made just now, so that every tablet will ask.
    #[must_use]
    pub fn is_new(&self) -> bool {
        self.is_new
    }

    /// The certificate.
    #[must_use]
    pub fn certificate(&self) -> &Certificate {
        &self.certificate
    }

    /// The addresses of the pages as they are now, the likeliest first: `https://192.0.2.7:4781`.
    #[must_use]
    pub fn sites(&self) -> Vec<String> {
        let port = self.listens.port();
        addresses(self.listens.ip())
            .into_iter()
            .map(|ip| format!("https://{}", SocketAddr::new(ip, port)))
            .collect()
    }

    /// Addresses of this computer that the certificate does not name: a browser asks there once more.
    #[must_use]
    pub fn unnamed(&self) -> Vec<IpAddr> {
        let mut unnamed = addresses(self.listens.ip());
        unnamed.retain(|ip| !self.certificate.names(*ip));
        unnamed
    }

    pub(crate) fn names(&self) -> &[String] {
        &self.names
    }

    pub(crate) fn port(&self) -> u16 {
        self.listens.port()
    }

    /// What TLS is spoken with.
    ///
    /// # Errors
    /// When certificate and key do not belong together.
    pub(crate) fn tls(&self) -> io::Result<Arc<ServerConfig>> {
        let damaged = |why: String| {
            io::Error::other(format!(
                "the certificate in the folder `door` cannot be used: {why}; move certificate.json away to have another made"
            ))
        };
        let certificate =
            CertificateDer::from_pem_slice(self.certificate.certificate_pem().as_bytes())
                .map_err(|error| damaged(error.to_string()))?;
        let key = PrivateKeyDer::from_pem_slice(self.certificate.key_pem().as_bytes())
            .map_err(|error| damaged(error.to_string()))?;
        let mut config = ServerConfig::builder_with_provider(Arc::new(ring::default_provider()))
            .with_safe_default_protocol_versions()
            .map_err(|error| damaged(error.to_string()))?
            .with_no_client_auth()
            .with_single_cert(vec![certificate], key)
            .map_err(|error| damaged(error.to_string()))?;
        config.alpn_protocols = vec![b"http/1.1".to_vec()];
        Ok(Arc::new(config))
    }
}

/// Under which addresses a listener is reached.
fn addresses(listens: IpAddr) -> Vec<IpAddr> {
    if !listens.is_unspecified() {
        return vec![listens.to_canonical()];
    }
    let mut found = network_addresses();
    if listens.is_ipv4() {
        found.retain(IpAddr::is_ipv4);
    }
    found
}
