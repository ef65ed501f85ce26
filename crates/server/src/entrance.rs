//! How people reach the server, and why plain HTTP stays on this machine.

use std::{
    net::{Ipv4Addr, SocketAddr, SocketAddrV4},
    path::PathBuf,
};

use clap::Args;
use http::{Uri, uri::Scheme};
use web::Transport;

use crate::{connection::Peers, exit::Failure};

const DEFAULT_LISTEN: SocketAddr = SocketAddr::V4(SocketAddrV4::new(Ipv4Addr::LOCALHOST, 8080));

#[derive(Args, Clone, Debug)]
pub(crate) struct EntranceFlags {
    /// Address and port to listen on; port 0 takes any free one.
    #[arg(long, value_name = "ADDR", default_value_t = DEFAULT_LISTEN)]
    listen: SocketAddr,
    /// PEM file with the server's certificate; HTTPS then ends in this program.
    #[arg(long, value_name = "FILE")]
    certificate: Option<PathBuf>,
    /// PEM file with the certificate's private key.
    #[arg(long, value_name = "FILE")]
    key: Option<PathBuf>,
    /// A proxy in front does HTTPS; needs --origin.
    #[arg(long)]
    behind_proxy: bool,
    /// What people type to reach the proxy, such as `https://coolant.example`.
    #[arg(long, value_name = "URL")]
    origin: Option<String>,
}

/// A way in that keeps PINs and jobs from being read or changed on their way.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Entrance {
    pub(crate) listen: SocketAddr,
    pub(crate) way: Way,
}

#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Way {
    Loopback,
    OwnTls { certificate: PathBuf, key: PathBuf },
    BehindProxy { origin: String },
}

impl Entrance {
    pub(crate) fn from_flags(flags: EntranceFlags) -> Result<Self, Failure> {
        let way = match (
            flags.certificate,
            flags.key,
            flags.behind_proxy,
            flags.origin,
        ) {
            (Some(certificate), Some(key), false, None) => Way::OwnTls { certificate, key },
            (None, None, true, Some(origin)) => Way::BehindProxy {
                origin: read_origin(&origin)?,
            },
            (None, None, false, None) => Way::Loopback,
            (Some(_), None, ..) => {
                return Err(Failure::usage(
                    "--certificate was given without --key; name the file with its private key as well",
                ));
            }
            (None, Some(_), ..) => {
                return Err(Failure::usage(
                    "--key was given without --certificate; name the file with the certificate as well",
                ));
            }
            (Some(_), Some(_), ..) => {
                return Err(Failure::usage(
                    "--certificate and --key end HTTPS here, --behind-proxy and --origin end it in a proxy; \
                     give one pair or the other",
                ));
            }
            (None, None, true, None) => {
                return Err(Failure::usage(
                    "--behind-proxy was given without --origin; add what people type to reach the proxy, \
                     such as --origin https://coolant.example",
                ));
            }
            (None, None, false, Some(_)) => {
                return Err(Failure::usage(
                    "--origin was given without --behind-proxy; add --behind-proxy if a proxy in front does HTTPS, \
                     or leave --origin out",
                ));
            }
        };
        if way == Way::Loopback && !flags.listen.ip().is_loopback() {
            return Err(reachable_without_https(flags.listen));
        }
        Ok(Self {
            listen: flags.listen,
            way,
        })
    }

    pub(crate) fn transport(&self) -> Transport {
        match &self.way {
            Way::Loopback => Transport::Loopback,
            Way::OwnTls { .. } => Transport::OwnTls,
            Way::BehindProxy { origin } => Transport::BehindProxy {
                origin: origin.clone(),
            },
        }
    }

    pub(crate) fn peers(&self) -> Peers {
        match self.way {
            Way::Loopback | Way::OwnTls { .. } => Peers::Clients,
            Way::BehindProxy { .. } => Peers::OneProxy,
        }
    }
}

fn reachable_without_https(listen: SocketAddr) -> Failure {
    let port = listen.port();
    Failure::usage(format!(
        "--listen {listen} can be reached from other machines, and without HTTPS anyone on the network could read \
         PINs and change jobs on their way. Three ways on:\n  \
         listen on this machine only:   --listen 127.0.0.1:{port}\n  \
         do HTTPS here:                 --certificate FILE --key FILE   (make them with: coolant-ledger certificate \
         --out DIR --name HOST)\n  \
         stand behind a proxy with it:  --behind-proxy --origin https://HOST"
    ))
}

fn read_origin(typed: &str) -> Result<String, Failure> {
    let refused = |found: &str| {
        Failure::usage(format!(
            "--origin {typed} {found}; it must be https:// and a host, and nothing after that but a port, \
             such as https://coolant.example"
        ))
    };
    let address: Uri = typed.parse().map_err(|_| refused("is not a web address"))?;
    if address.scheme() != Some(&Scheme::HTTPS) {
        return Err(refused("does not start with https://"));
    }
    let authority = address
        .authority()
        .ok_or_else(|| refused("names no host"))?;
    if authority.as_str().contains('@') || address.path() != "/" || address.query().is_some() {
        return Err(refused("holds more than a host and a port"));
    }
    Ok(format!(
        "https://{}",
        authority.as_str().to_ascii_lowercase()
    ))
}

#[cfg(test)]
mod tests {
    use clap::Parser;

    use super::{Entrance, EntranceFlags, Way};
    use crate::exit::Failure;

    #[derive(Debug, Parser)]
    struct Line {
        #[command(flatten)]
        flags: EntranceFlags,
    }

    fn entrance(words: &str) -> Result<Entrance, Failure> {
        let line =
            Line::try_parse_from(["serve"].into_iter().chain(words.split_whitespace())).unwrap();
        Entrance::from_flags(line.flags)
    }

    #[test]
    fn without_flags_it_listens_on_this_machine_only() {
        let entrance = entrance("").unwrap();
        assert_eq!(entrance.listen.to_string(), "127.0.0.1:8080");
        assert_eq!(entrance.way, Way::Loopback);
    }

    #[test]
    fn plain_http_is_refused_on_every_address_that_others_can_reach() {
        for listen in ["0.0.0.0:80", "[::]:80", "192.0.2.7:8080", "[2001:db8::1]:1"] {
            let refusal = entrance(&format!("--listen {listen}")).unwrap_err();
            assert_eq!(refusal.number(), 2);
            assert!(refusal.to_string().contains("Three ways on"), "{refusal}");
        }
        for listen in ["127.0.0.1:0", "127.9.9.9:80", "[::1]:80"] {
            assert!(entrance(&format!("--listen {listen}")).is_ok(), "{listen}");
        }
    }

    #[test]
    fn with_https_any_address_may_be_listened_on() {
        assert!(entrance("--listen 0.0.0.0:443 --certificate c --key k").is_ok());
        assert!(
            entrance("--listen 0.0.0.0:80 --behind-proxy --origin https://coolant.example").is_ok()
        );
    }

    #[test]
    fn half_a_pair_of_flags_is_told_what_is_missing() {
        for (words, missing) in [
            ("--certificate c", "without --key"),
            ("--key k", "without --certificate"),
            ("--behind-proxy", "without --origin"),
            ("--origin https://a", "without --behind-proxy"),
            (
                "--certificate c --key k --behind-proxy --origin https://a",
                "one pair or the other",
            ),
        ] {
            let refusal = entrance(words).unwrap_err();
            assert!(refusal.to_string().contains(missing), "{words}: {refusal}");
        }
    }

    #[test]
    fn an_origin_is_https_with_a_host_and_nothing_more() {
        for origin in [
            "http://a",
            "a",
            "https://",
            "https://a/b",
            "https://a?b",
            "https://u@a",
            "ftp://a",
        ] {
            assert!(
                entrance(&format!("--behind-proxy --origin {origin}")).is_err(),
                "{origin}"
            );
        }
        let entrance = entrance("--behind-proxy --origin https://Coolant.example:8443/").unwrap();
        assert_eq!(
            entrance.way,
            Way::BehindProxy {
                origin: "https://coolant.example:8443".to_owned()
            }
        );
    }
}
