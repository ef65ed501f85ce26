//! `certificate`: HTTPS for a shop without a public name.
//!
//! Tablets trust the shop's authority once, for ten years. The server's certificate lives a year and is
//! made anew from the same authority, so that nobody has to touch the tablets again.

use std::{
    fs::{self, DirBuilder, OpenOptions},
    io::Write,
    net::IpAddr,
    os::unix::fs::{DirBuilderExt, OpenOptionsExt},
    path::{Path, PathBuf},
};

use chrono::{DateTime, Datelike, TimeDelta, Utc};
use clap::Args;
use rcgen::{
    BasicConstraints, CertificateParams, DnType, ExtendedKeyUsagePurpose, IsCa, Issuer, KeyPair,
    KeyUsagePurpose, PublicKeyData, date_time_ymd,
};
use sha2::{Digest, Sha256};
use web::Clock;

use crate::{exit::Failure, out};

/// Browsers refuse certificates that live longer than 398 days; a day is kept back for time zones.
const SERVER_DAYS: i64 = 396;
const AUTHORITY_DAYS: i64 = 3652;
/// A tablet whose clock is behind would not take a certificate that starts now.
const STARTS_DAYS_AGO: i64 = 1;

const READABLE: u32 = 0o644;
const SECRET: u32 = 0o600;

#[derive(Args, Debug)]
pub(crate) struct Flags {
    /// Folder for the files; an authority that is already there is used again.
    #[arg(long, value_name = "DIR")]
    out: PathBuf,
    /// Names and addresses people type to reach the server, such as coolant.shop.example 192.0.2.7.
    #[arg(long = "name", value_name = "HOST", required = true, num_args = 1..)]
    names: Vec<String>,
}

struct Files {
    authority: PathBuf,
    authority_key: PathBuf,
    server: PathBuf,
    server_key: PathBuf,
}

/// What is left to make: everything, or only the server's part.
enum Authority {
    Made(KeyPair),
    New(KeyPair),
}

pub(crate) fn run(flags: &Flags) -> Result<(), Failure> {
    flags.names.iter().try_for_each(|name| check_name(name))?;
    let files = Files::within(&flags.out);
    refuse_to_overwrite(&files)?;
    let authority = find_authority(&files)?;
    let now = Clock::system().now();

    DirBuilder::new()
        .recursive(true)
        .mode(0o700)
        .create(&flags.out)
        .map_err(|cause| not_written(&flags.out, &cause.to_string()))?;
    let authority_key = match authority {
        Authority::Made(key) => key,
        Authority::New(key) => {
            let certificate = authority_params(&key, now)
                .self_signed(&key)
                .map_err(not_made)?;
            write_new(&files.authority_key, &key.serialize_pem(), SECRET)?;
            write_new(&files.authority, &certificate.pem(), READABLE)?;
            key
        }
    };
    let server_key = KeyPair::generate().map_err(not_made)?;
    let issuer = Issuer::new(authority_params(&authority_key, now), authority_key);
    let certificate = server_params(&flags.names, now)?
        .signed_by(&server_key, &issuer)
        .map_err(not_made)?;
    write_new(&files.server_key, &server_key.serialize_pem(), SECRET)?;
    write_new(&files.server, &certificate.pem(), READABLE)?;
    out::say(&explanation(&files, &flags.names));
    Ok(())
}

impl Files {
    fn within(folder: &Path) -> Self {
        Self {
            authority: folder.join("authority.crt"),
            authority_key: folder.join("authority.key"),
            server: folder.join("server.crt"),
            server_key: folder.join("server.key"),
        }
    }
}

fn check_name(name: &str) -> Result<(), Failure> {
    let is_host = name.len() <= 253
        && name.split('.').all(|label| {
            (1..=63).contains(&label.len())
                && !label.starts_with('-')
                && !label.ends_with('-')
                && label
                    .bytes()
                    .all(|byte| byte.is_ascii_alphanumeric() || byte == b'-')
        });
    if name.parse::<IpAddr>().is_ok() || is_host {
        return Ok(());
    }
    Err(Failure::usage(format!(
        "--name {name} is neither a host name (letters, digits, hyphens and dots) nor an IP address; \
         leave out https://, a port and a path"
    )))
}

fn refuse_to_overwrite(files: &Files) -> Result<(), Failure> {
    let there: Vec<String> = [&files.server, &files.server_key]
        .into_iter()
        .filter(|file| file.exists())
        .map(|file| file.display().to_string())
        .collect();
    if there.is_empty() {
        return Ok(());
    }
    Err(Failure::usage(format!(
        "{} there already, and nothing is overwritten; to renew the server's certificate move that away and run \
         the same command again, the authority stays",
        if there.len() == 1 {
            format!("{} is", there.concat())
        } else {
            format!("{} are", there.join(" and "))
        }
    )))
}

fn find_authority(files: &Files) -> Result<Authority, Failure> {
    match (files.authority.exists(), files.authority_key.exists()) {
        (false, false) => KeyPair::generate().map(Authority::New).map_err(not_made),
        (true, true) => fs::read_to_string(&files.authority_key)
            .map_err(|cause| cause.to_string())
            .and_then(|text| KeyPair::from_pem(&text).map_err(|cause| cause.to_string()))
            .map(Authority::Made)
            .map_err(|cause| {
                Failure::usage(format!(
                    "{} cannot be read ({cause})",
                    files.authority_key.display()
                ))
            }),
        (true, false) => Err(half_an_authority(&files.authority, &files.authority_key)),
        (false, true) => Err(half_an_authority(&files.authority_key, &files.authority)),
    }
}

fn half_an_authority(there: &Path, missing: &Path) -> Failure {
    Failure::usage(format!(
        "{} is there, but {} is not; put it back to use this authority again, or name an empty folder with --out to \
         make a new one that every tablet must be told to trust",
        there.display(),
        missing.display()
    ))
}

/// The same key always gives the same name, so that certificates made later belong to the authority on the tablets.
fn authority_params(key: &KeyPair, now: DateTime<Utc>) -> CertificateParams {
    let mut params = CertificateParams::default();
    let digest = Sha256::digest(key.subject_public_key_info());
    let mark = digest
        .first_chunk()
        .map_or(0, |start| u32::from_be_bytes(*start));
    params.distinguished_name.remove(DnType::CommonName);
    params.distinguished_name.push(
        DnType::CommonName,
        format!("Coolant Ledger shop authority {mark:08x}"),
    );
    params.is_ca = IsCa::Ca(BasicConstraints::Constrained(0));
    params.key_usages = vec![KeyUsagePurpose::KeyCertSign, KeyUsagePurpose::CrlSign];
    live_for(&mut params, now, AUTHORITY_DAYS);
    params
}

fn server_params(names: &[String], now: DateTime<Utc>) -> Result<CertificateParams, Failure> {
    let mut params = CertificateParams::new(names).map_err(not_made)?;
    params.distinguished_name.remove(DnType::CommonName);
    params
        .distinguished_name
        .push(DnType::CommonName, "Coolant Ledger server");
    params.key_usages = vec![KeyUsagePurpose::DigitalSignature];
    params.extended_key_usages = vec![ExtendedKeyUsagePurpose::ServerAuth];
    params.use_authority_key_identifier_extension = true;
    live_for(&mut params, now, SERVER_DAYS);
    Ok(params)
}

fn live_for(params: &mut CertificateParams, now: DateTime<Utc>, days: i64) {
    let day = |at: DateTime<Utc>| {
        // A month is 1 to 12 and a day 1 to 31: both fit.
        let month = u8::try_from(at.month()).unwrap_or(1);
        date_time_ymd(at.year(), month, u8::try_from(at.day()).unwrap_or(1))
    };
    let start = now - TimeDelta::days(STARTS_DAYS_AGO);
    params.not_before = day(start);
    params.not_after = day(start + TimeDelta::days(days));
}

/// Never follows or replaces what is there, and a key is never readable by others, not even for a moment.
fn write_new(file: &Path, text: &str, mode: u32) -> Result<(), Failure> {
    OpenOptions::new()
        .write(true)
        .create_new(true)
        .mode(mode)
        .open(file)
        .and_then(|mut opened| {
            opened.write_all(text.as_bytes())?;
            opened.sync_all()
        })
        .map_err(|cause| not_written(file, &cause.to_string()))
}

fn not_written(path: &Path, cause: &str) -> Failure {
    Failure::not_writable(format!(
        "{} cannot be written ({cause}); name a folder with --out that you may write to",
        path.display()
    ))
}

#[expect(clippy::needless_pass_by_value, reason = "it is handed to map_err")]
fn not_made(cause: rcgen::Error) -> Failure {
    Failure::broken(format!("the certificate could not be made: {cause}"))
}

fn explanation(files: &Files, names: &[String]) -> String {
    let Files {
        authority,
        authority_key,
        server,
        server_key,
    } = files;
    format!(
        "Made for {names}:\n  \
         {server}  the server's certificate, good for about 13 months\n  \
         {server_key}  its key, secret\n  \
         {authority}  the shop's own authority, good for 10 years\n  \
         {authority_key}  its key, secret: whoever has it can pose as any site to your tablets.\n    \
         Keep it away from the server, on a stick in a drawer; it is needed again in a year.\n\
         \n\
         Start the server with:\n  \
         coolant-ledger serve --listen 0.0.0.0:8443 --certificate {server} --key {server_key}\n\
         \n\
         Tell each tablet once to trust the authority: copy {authority} to it, then open its settings,\n\
         search for \"certificate\", install the file as a certificate authority (CA) and, where the\n\
         tablet asks for it, switch on full trust for it. A computer's browser has the same under its\n\
         settings, certificates, authorities. Check the fingerprint against the file on the server.\n\
         \n\
         In a year move {server} and {server_key} away and run the same command again;\n\
         the tablets need nothing.",
        names = names.join(", "),
        server = server.display(),
        server_key = server_key.display(),
        authority = authority.display(),
        authority_key = authority_key.display(),
    )
}

#[cfg(test)]
mod tests {
    use super::check_name;

    #[test]
    fn names_are_hosts_or_addresses() {
        for name in [
            "coolant",
            "coolant.shop.example",
            "192.0.2.7",
            "2001:db8::1",
            "a-1.b",
        ] {
            assert!(check_name(name).is_ok(), "{name}");
        }
        for name in [
            "",
            "https://coolant",
            "coolant:8443",
            "a b",
            "-a",
            "a..b",
            "a/b",
            "*.example",
        ] {
            assert!(check_name(name).is_err(), "{name}");
        }
    }
}
