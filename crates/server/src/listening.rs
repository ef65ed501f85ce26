//! Listening, serving and stopping.

use std::{
    net::{SocketAddr, TcpListener},
    time::Duration,
};

use axum::Router;
use axum_server::{
    Handle,
    tls_rustls::{RustlsAcceptor, RustlsConfig},
};
use tokio::signal::unix::{Signal, SignalKind, signal};

use crate::{
    connection::{Gate, Peers},
    entrance::{Entrance, Way},
    exit::Failure,
    out, tls,
};

/// How long a client may take to send the head of a request, or to begin another one.
const HEAD_WITHIN: Duration = Duration::from_secs(10);
/// How long requests that are under way may still take once the program is told to stop.
const STOP_WITHIN: Duration = Duration::from_secs(10);
/// Room for the head of a request; a longer one is refused.
const HEAD_LIMIT: usize = 64 * 1024;
/// "A file has reached its size limit" (SIGXFSZ).
const FILE_SIZE_SIGNAL: i32 = 25;

/// A socket that is bound, so that its real address is known, and what is spoken on it.
#[derive(Debug)]
pub(crate) struct Listening {
    listener: TcpListener,
    address: SocketAddr,
    tls: Option<RustlsConfig>,
    peers: Peers,
}

impl Listening {
    /// Reads the certificate and binds the socket; nothing is served yet.
    pub(crate) fn start(entrance: &Entrance) -> Result<Self, Failure> {
        let tls = match &entrance.way {
            Way::OwnTls { certificate, key } => Some(tls::read(certificate, key)?),
            Way::Loopback | Way::BehindProxy { .. } => None,
        };
        let listen = entrance.listen;
        let not_bound = |cause| {
            Failure::taken(format!(
                "cannot listen on {listen} ({cause}); see what else listens there, or choose another --listen"
            ))
        };
        let listener = TcpListener::bind(listen).map_err(not_bound)?;
        let address = listener.local_addr().map_err(not_bound)?;
        Ok(Self {
            listener,
            address,
            tls,
            peers: entrance.peers(),
        })
    }

    /// The first line of standard output: scripts and tests read the real address from it.
    pub(crate) fn announce(&self) {
        out::say(&format!("listening on {}", self.origin()));
    }

    /// What it is reached at from this machine.
    pub(crate) fn origin(&self) -> String {
        let scheme = if self.tls.is_some() { "https" } else { "http" };
        format!("{scheme}://{}", self.address)
    }

    /// Serves until the program is told to stop and what was under way has ended.
    pub(crate) async fn serve(self, site: Router, signals: StopSignals) -> Result<(), Failure> {
        let handle = Handle::<SocketAddr>::new();
        tokio::spawn(signals.stop(handle.clone()));
        let mut server = axum_server::from_tcp(self.listener)
            .map_err(|cause| Failure::broken(format!("cannot serve on {}: {cause}", self.address)))?
            .handle(handle)
            .http1_only()
            .accept_error_handler(
                |peer, cause| tracing::debug!(?peer, %cause, "connection not taken"),
            );
        server
            .http_builder()
            .http1()
            .header_read_timeout(HEAD_WITHIN)
            .max_buf_size(HEAD_LIMIT);

        let gate = Gate::new(self.peers);
        let site = site.into_make_service();
        let ended = match self.tls {
            Some(config) => {
                let acceptor = RustlsAcceptor::new(config)
                    .handshake_timeout(HEAD_WITHIN)
                    .acceptor(gate);
                server.acceptor(acceptor).serve(site).await
            }
            None => server.acceptor(gate).serve(site).await,
        };
        ended.map_err(|cause| {
            Failure::broken(format!("serving on {} broke off: {cause}", self.address))
        })
    }
}

/// The signals a server must have taken over before it writes its first byte.
#[derive(Debug)]
pub(crate) struct StopSignals {
    terminate: Signal,
    interrupt: Signal,
}

impl StopSignals {
    pub(crate) fn take() -> Result<Self, Failure> {
        let take = |kind| {
            signal(kind)
                .map_err(|cause| Failure::broken(format!("signals cannot be received: {cause}")))
        };
        // Left alone, this one kills the program in the middle of a write. Once it has any receiver, even
        // one that is dropped at once, the write fails like any other and is answered as such.
        drop(take(SignalKind::from_raw(FILE_SIZE_SIGNAL))?);
        Ok(Self {
            terminate: take(SignalKind::terminate())?,
            interrupt: take(SignalKind::interrupt())?,
        })
    }

    /// The first signal lets requests end, a second one does not wait.
    async fn stop(mut self, handle: Handle<SocketAddr>) {
        self.next().await;
        tracing::info!(
            "stopping; requests under way have {} s",
            STOP_WITHIN.as_secs()
        );
        handle.graceful_shutdown(Some(STOP_WITHIN));
        self.next().await;
        handle.shutdown();
    }

    async fn next(&mut self) {
        tokio::select! {
            _ = self.terminate.recv() => {}
            _ = self.interrupt.recv() => {}
        }
    }
}
