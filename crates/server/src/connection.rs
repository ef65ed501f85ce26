//! How many connections are taken, and from whom, so that one client cannot starve the shop.

use std::{
    collections::HashMap,
    future::{Ready, ready},
    io::{self, IoSlice},
    net::IpAddr,
    pin::Pin,
    sync::{Arc, Mutex, PoisonError},
    task::{Context, Poll, ready as ready_or_pending},
    time::Duration,
};

use axum_server::accept::Accept;
use tokio::{
    io::{AsyncRead, AsyncWrite, ReadBuf},
    net::TcpStream,
    time::{Instant, Sleep, sleep},
};

const IN_ALL: usize = 256;
const PER_ADDRESS: usize = 32;
/// A client that takes nothing of its answer for this long is let go.
const TAKES_SOMETHING_WITHIN: Duration = Duration::from_secs(20);
const TOLD_AT_MOST_EVERY: Duration = Duration::from_mins(1);

/// Whether the far end of a connection says who the client is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Peers {
    /// Each client comes from its own address.
    Clients,
    /// All come through one proxy, which has to share out its connections itself.
    OneProxy,
}

/// Takes connections up to the limits and closes the rest at once.
#[derive(Clone, Debug)]
pub(crate) struct Gate {
    peers: Peers,
    taken: Arc<Mutex<Taken>>,
}

#[derive(Debug, Default)]
struct Taken {
    in_all: usize,
    per_address: HashMap<IpAddr, usize>,
    told: Option<Instant>,
}

/// One taken connection; the place is free again when it is dropped.
#[derive(Debug)]
struct Place {
    address: IpAddr,
    taken: Arc<Mutex<Taken>>,
}

impl Gate {
    pub(crate) fn new(peers: Peers) -> Self {
        Self {
            peers,
            taken: Arc::default(),
        }
    }

    fn take(&self, address: IpAddr) -> Option<Place> {
        // The counts are whole after every step, so a panic elsewhere leaves nothing half done.
        let mut taken = self.taken.lock().unwrap_or_else(PoisonError::into_inner);
        let from_here = taken.per_address.get(&address).copied().unwrap_or(0);
        // The machine itself is not one client: programs and people's tools share its address.
        let shares = self.peers == Peers::Clients && !address.is_loopback();
        let too_many_from_here = shares && from_here >= PER_ADDRESS;
        if taken.in_all >= IN_ALL || too_many_from_here {
            taken.tell_of_refusal(address);
            return None;
        }
        taken.in_all += 1;
        taken.per_address.insert(address, from_here + 1);
        Some(Place {
            address,
            taken: Arc::clone(&self.taken),
        })
    }
}

impl Taken {
    /// Now and then only: whoever floods the server must not fill the log as well.
    fn tell_of_refusal(&mut self, address: IpAddr) {
        if self
            .told
            .is_some_and(|at| at.elapsed() < TOLD_AT_MOST_EVERY)
        {
            return;
        }
        self.told = Some(Instant::now());
        tracing::warn!(client = %address, connections = self.in_all, "a connection was closed, too many are open");
    }
}

impl Drop for Place {
    fn drop(&mut self) {
        let mut taken = self.taken.lock().unwrap_or_else(PoisonError::into_inner);
        taken.in_all = taken.in_all.saturating_sub(1);
        if let Some(from_here) = taken.per_address.get_mut(&self.address) {
            *from_here = from_here.saturating_sub(1);
            if *from_here == 0 {
                taken.per_address.remove(&self.address);
            }
        }
    }
}

impl<S> Accept<TcpStream, S> for Gate {
    type Stream = Held<TcpStream>;
    type Service = S;
    type Future = Ready<io::Result<(Self::Stream, S)>>;

    fn accept(&self, stream: TcpStream, service: S) -> Self::Future {
        ready(stream.peer_addr().and_then(|peer| {
            // An IPv4 client of a server that listens on IPv6 is still one client.
            let place = self.take(peer.ip().to_canonical()).ok_or_else(|| {
                io::Error::new(io::ErrorKind::QuotaExceeded, "all connections are in use")
            })?;
            stream.set_nodelay(true)?;
            Ok((
                Held {
                    stream,
                    stalled: None,
                    _place: place,
                },
                service,
            ))
        }))
    }
}

/// A connection that keeps its place and does not wait for ever for a client to take its answer.
#[derive(Debug)]
pub(crate) struct Held<S> {
    stream: S,
    stalled: Option<Pin<Box<Sleep>>>,
    _place: Place,
}

impl<S> Held<S> {
    fn unless_stalled<T>(
        &mut self,
        cx: &mut Context<'_>,
        written: Poll<io::Result<T>>,
    ) -> Poll<io::Result<T>> {
        if written.is_ready() {
            self.stalled = None;
            return written;
        }
        let stalled = self
            .stalled
            .get_or_insert_with(|| Box::pin(sleep(TAKES_SOMETHING_WITHIN)));
        ready_or_pending!(stalled.as_mut().poll(cx));
        Poll::Ready(Err(io::ErrorKind::TimedOut.into()))
    }
}

impl<S: AsyncRead + Unpin> AsyncRead for Held<S> {
    fn poll_read(
        mut self: Pin<&mut Self>,
        cx: &mut Context<'_>,
        into: &mut ReadBuf<'_>,
    ) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_read(cx, into)
    }
}

impl<S: AsyncWrite + Unpin> AsyncWrite for Held<S> {
    fn poll_write(
        mut self: Pin<&mut Self>,
        cx: &mut Context<'_>,
        bytes: &[u8],
    ) -> Poll<io::Result<usize>> {
        let written = Pin::new(&mut self.stream).poll_write(cx, bytes);
        self.unless_stalled(cx, written)
    }

    fn poll_write_vectored(
        mut self: Pin<&mut Self>,
        cx: &mut Context<'_>,
        parts: &[IoSlice<'_>],
    ) -> Poll<io::Result<usize>> {
        let written = Pin::new(&mut self.stream).poll_write_vectored(cx, parts);
        self.unless_stalled(cx, written)
    }

    fn is_write_vectored(&self) -> bool {
        self.stream.is_write_vectored()
    }

    fn poll_flush(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        let flushed = Pin::new(&mut self.stream).poll_flush(cx);
        self.unless_stalled(cx, flushed)
    }

    fn poll_shutdown(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        let closed = Pin::new(&mut self.stream).poll_shutdown(cx);
        self.unless_stalled(cx, closed)
    }
}

#[cfg(test)]
mod tests {
    use std::net::{IpAddr, Ipv4Addr};

    use super::{Gate, IN_ALL, PER_ADDRESS, Peers};

    fn address(number: u8) -> IpAddr {
        Ipv4Addr::new(192, 0, 2, number).into()
    }

    #[test]
    fn one_address_gets_its_share_and_a_place_is_free_again_when_left() {
        let gate = Gate::new(Peers::Clients);
        let mut places: Vec<_> = (0..PER_ADDRESS)
            .map(|_| gate.take(address(1)).unwrap())
            .collect();
        assert!(gate.take(address(1)).is_none());
        assert!(gate.take(address(2)).is_some());
        places.pop();
        assert!(gate.take(address(1)).is_some());
        drop(places);
        assert!(gate.taken.lock().unwrap().per_address.is_empty());
    }

    #[test]
    fn the_machine_itself_may_use_all_places() {
        let gate = Gate::new(Peers::Clients);
        let here = IpAddr::from(Ipv4Addr::LOCALHOST);
        let places: Vec<_> = (0..IN_ALL).map(|_| gate.take(here).unwrap()).collect();
        assert!(gate.take(here).is_none());
        drop(places);
    }

    #[test]
    fn a_proxy_may_use_all_places_but_no_more() {
        let gate = Gate::new(Peers::OneProxy);
        let places: Vec<_> = (0..IN_ALL)
            .map(|_| gate.take(address(1)).unwrap())
            .collect();
        assert!(gate.take(address(1)).is_none());
        assert!(gate.take(address(2)).is_none());
        drop(places);
        assert!(gate.take(address(1)).is_some());
    }
}
