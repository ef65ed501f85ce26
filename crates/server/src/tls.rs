//! HTTPS that ends in this program.

use std::{fs, path::Path, sync::Arc};

use axum_server::tls_rustls::RustlsConfig;
use rustls::{
    ServerConfig,
    crypto::ring,
    pki_types::{CertificateDer, PrivateKeyDer, pem::PemObject},
};

use crate::exit::Failure;

/// Reads the certificate with its chain and the key, and sees that they belong together.
pub(crate) fn read(certificate: &Path, key: &Path) -> Result<RustlsConfig, Failure> {
    let chain: Vec<CertificateDer<'static>> =
        CertificateDer::pem_slice_iter(&bytes_of(certificate)?)
            .collect::<Result<_, _>>()
            .map_err(|cause| not_pem(certificate, "a certificate", &cause))?;
    if chain.is_empty() {
        return Err(Failure::usage(format!(
            "{} holds no certificate; it must be a PEM file with the server's certificate first",
            certificate.display()
        )));
    }
    let key_read = PrivateKeyDer::from_pem_slice(&bytes_of(key)?)
        .map_err(|cause| not_pem(key, "a private key", &cause))?;

    // Named here, so that no other provider can be chosen by what happens to be linked.
    let mut config = ServerConfig::builder_with_provider(Arc::new(ring::default_provider()))
        .with_safe_default_protocol_versions()
        .map_err(|cause| Failure::broken(format!("TLS cannot be set up: {cause}")))?
        .with_no_client_auth()
        .with_single_cert(chain, key_read)
        .map_err(|cause| {
            Failure::usage(format!(
                "{} and {} do not work together ({cause}); name the certificate and the key that were made together",
                certificate.display(),
                key.display()
            ))
        })?;
    config.alpn_protocols = vec![b"http/1.1".to_vec()];
    Ok(RustlsConfig::from_config(Arc::new(config)))
}

fn bytes_of(file: &Path) -> Result<Vec<u8>, Failure> {
    fs::read(file).map_err(|cause| {
        Failure::usage(format!(
            "{} cannot be read ({cause}); see that the file is there and readable",
            file.display()
        ))
    })
}

fn not_pem(file: &Path, wanted: &str, cause: &rustls::pki_types::pem::Error) -> Failure {
    Failure::usage(format!(
        "{} does not hold {wanted} as PEM text ({cause})",
        file.display()
    ))
}
