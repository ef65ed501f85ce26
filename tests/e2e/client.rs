//! A plain blocking HTTP/1.1 client, close enough to the wire for what a library would not let us send.

use std::{
    io::{ErrorKind, Read, Write},
    net::{SocketAddr, TcpStream},
    path::Path,
    sync::Arc,
    time::Duration,
};

use rustls::{
    ClientConfig, ClientConnection, RootCertStore, StreamOwned,
    crypto::ring,
    pki_types::{CertificateDer, ServerName, pem::PemObject},
};

/// Longer than any limit of the server, so that the server's limits are what ends a test.
const PATIENCE: Duration = Duration::from_secs(40);

#[derive(Debug)]
pub(crate) struct Answer {
    pub(crate) status: u16,
    headers: Vec<(String, String)>,
    pub(crate) body: String,
    /// The body as it came, for what is no text.
    pub(crate) bytes: Vec<u8>,
}

impl Answer {
    pub(crate) fn header(&self, name: &str) -> Option<&str> {
        self.headers
            .iter()
            .find(|(known, _)| known.eq_ignore_ascii_case(name))
            .map(|(_, value)| value.as_str())
    }

    /// Every value of a header that may come more than once.
    pub(crate) fn all(&self, name: &str) -> Vec<&str> {
        self.headers
            .iter()
            .filter(|(known, _)| known.eq_ignore_ascii_case(name))
            .map(|(_, value)| value.as_str())
            .collect()
    }

    pub(crate) fn json(&self) -> serde_json::Value {
        serde_json::from_str(&self.body).unwrap()
    }

    fn read(bytes: &[u8]) -> Self {
        let end = bytes.windows(4).position(|four| four == b"\r\n\r\n");
        let (head, body) = bytes.split_at(end.unwrap());
        let head = std::str::from_utf8(head).unwrap();
        let bytes = body.get(4..).unwrap().to_vec();
        let mut lines = head.split("\r\n");
        let status = lines
            .next()
            .unwrap()
            .split(' ')
            .nth(1)
            .unwrap()
            .parse()
            .unwrap();
        let headers: Vec<(String, String)> = lines
            .map(|line| line.split_once(": ").unwrap())
            .map(|(name, value)| (name.to_owned(), value.to_owned()))
            .collect();
        let answer = Self {
            status,
            headers,
            body: String::from_utf8_lossy(&bytes).into_owned(),
            bytes,
        };
        match answer.header("transfer-encoding") {
            Some("chunked") => Self {
                body: join_chunks(&answer.body),
                ..answer
            },
            _ => answer,
        }
    }
}

fn join_chunks(mut rest: &str) -> String {
    let mut whole = String::new();
    loop {
        let (size, after) = rest.split_once("\r\n").unwrap();
        let size = usize::from_str_radix(size, 16).unwrap();
        if size == 0 {
            return whole;
        }
        whole.push_str(after.get(..size).unwrap());
        rest = after.get(size + 2..).unwrap();
    }
}

/// Sends what it is given as it is and reads until the server closes.
pub(crate) fn send_raw(address: SocketAddr, bytes: &[u8]) -> Answer {
    let mut stream = connect(address);
    stream.write_all(bytes).unwrap();
    Answer::read(&read_to_end(&mut stream))
}

/// The same to a server that may be gone at any moment: only a whole answer counts.
pub(crate) fn try_send_raw(address: SocketAddr, bytes: &[u8]) -> Option<Answer> {
    let mut stream = TcpStream::connect(address).ok()?;
    stream.set_read_timeout(Some(PATIENCE)).ok()?;
    stream.write_all(bytes).ok()?;
    let mut received = Vec::new();
    // A server that was killed resets the connection; what came before that may still be whole.
    if stream.read_to_end(&mut received).is_err() && received.is_empty() {
        return None;
    }
    let head = received.windows(4).position(|four| four == b"\r\n\r\n")?;
    let answer = Answer::read(&received);
    let length: usize = answer.header("content-length")?.parse().ok()?;
    (received.len() == head + 4 + length).then_some(answer)
}

/// The same over TLS, trusting only the given authority.
pub(crate) fn send_trusting(address: SocketAddr, authority: &Path, bytes: &[u8]) -> Answer {
    let mut roots = RootCertStore::empty();
    roots
        .add(CertificateDer::from_pem_file(authority).unwrap())
        .unwrap();
    let config = ClientConfig::builder_with_provider(Arc::new(ring::default_provider()))
        .with_safe_default_protocol_versions()
        .unwrap()
        .with_root_certificates(roots)
        .with_no_client_auth();
    let name = ServerName::from(address.ip());
    let connection = ClientConnection::new(Arc::new(config), name).unwrap();
    let mut stream = StreamOwned::new(connection, connect(address));
    stream.write_all(bytes).unwrap();
    Answer::read(&read_to_end(&mut stream))
}

pub(crate) fn connect(address: SocketAddr) -> TcpStream {
    let stream = TcpStream::connect(address).unwrap();
    stream.set_read_timeout(Some(PATIENCE)).unwrap();
    stream.set_write_timeout(Some(PATIENCE)).unwrap();
    stream
}

pub(crate) fn read_to_end(stream: &mut impl Read) -> Vec<u8> {
    let mut bytes = Vec::new();
    match stream.read_to_end(&mut bytes) {
        Ok(_) => {}
        // The server may close without a TLS good-bye, or reset what it does not want to read.
        Err(cause)
            if matches!(
                cause.kind(),
                ErrorKind::UnexpectedEof | ErrorKind::ConnectionReset
            ) => {}
        Err(cause) => std::panic::resume_unwind(Box::new(cause.to_string())),
    }
    bytes
}

/// The bytes of a request that asks the server to close afterwards.
pub(crate) fn request(method: &str, path: &str, headers: &[(&str, &str)], body: &str) -> Vec<u8> {
    let mut text = format!("{method} {path} HTTP/1.1\r\nConnection: close\r\n");
    if headers.iter().all(|(name, _)| *name != "Host") {
        text.push_str("Host: 127.0.0.1\r\n");
    }
    for (name, value) in headers {
        text.push_str(name);
        text.push_str(": ");
        text.push_str(value);
        text.push_str("\r\n");
    }
    if !body.is_empty() {
        text.push_str("Content-Length: ");
        text.push_str(&body.len().to_string());
        text.push_str("\r\n");
    }
    text.push_str("\r\n");
    text.push_str(body);
    text.into_bytes()
}
