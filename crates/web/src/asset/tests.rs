//! How built-in files are answered, and that they are the files they should be.

use std::{collections::BTreeSet, fmt::Write as _, fs, io::Read as _, path::Path as FilePath};

use axum::{
    Router,
    body::{Body, Bytes, to_bytes},
    http::{Method, Request, Response, StatusCode, header},
    routing::get,
};
use sha2::{Digest, Sha256};
use tower::ServiceExt;

use super::{
    APP_CSS, APP_JS, ASSETS, B612_400_WOFF2, B612_700_WOFF2, DOM_JS, FORM_JS, PAD_JS, serve,
};

const FOLDER: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../../static");

async fn answer(request: Request<Body>) -> (Response<()>, Bytes) {
    let site: Router = Router::new().route("/static/{name}", get(serve));
    let (parts, body) = site.oneshot(request).await.unwrap().into_parts();
    let bytes = to_bytes(body, usize::MAX).await.unwrap();
    (Response::from_parts(parts, ()), bytes)
}

async fn style_with(name: header::HeaderName, value: &str) -> (Response<()>, Bytes) {
    let request = Request::get(APP_CSS).header(name, value);
    answer(request.body(Body::empty()).unwrap()).await
}

fn plain(url: &str) -> &'static [u8] {
    let asset = ASSETS.iter().find(|asset| asset.url == url).unwrap();
    asset.forms.last().unwrap().bytes
}

#[tokio::test]
async fn a_file_is_kept_for_good_and_not_sent_twice() {
    for asset in ASSETS {
        let request = Request::get(asset.url).body(Body::empty()).unwrap();
        let (head, bytes) = answer(request).await;
        assert_eq!(head.status(), StatusCode::OK, "{}", asset.url);
        assert_eq!(bytes, asset.forms.last().unwrap().bytes, "{}", asset.url);
        assert_eq!(
            head.headers()[header::CACHE_CONTROL],
            "public, max-age=31536000, immutable"
        );
        assert_eq!(head.headers()[header::VARY], "accept-encoding");
        assert_eq!(head.headers()[header::CONTENT_TYPE], asset.content_type);

        let tag = head.headers()[header::ETAG].clone();
        let again = Request::get(asset.url).header(header::IF_NONE_MATCH, tag);
        let (head, bytes) = answer(again.body(Body::empty()).unwrap()).await;
        assert_eq!(head.status(), StatusCode::NOT_MODIFIED, "{}", asset.url);
        assert!(bytes.is_empty());
    }
}

#[tokio::test]
async fn each_client_gets_the_smallest_form_that_it_takes() {
    for (takes, encoding) in [
        ("gzip, deflate, br", Some("br")),
        ("GZIP;q=0.5, br;q=0", Some("gzip")),
        ("br;q=0.001", Some("br")),
        ("deflate", None),
        ("gzip;q=0, br;q=nothing", None),
    ] {
        let (head, bytes) = style_with(header::ACCEPT_ENCODING, takes).await;
        let told = head.headers().get(header::CONTENT_ENCODING);
        let told = told.map(|value| value.to_str().unwrap());
        assert_eq!(told, encoding, "{takes}");
        let mut unpacked = Vec::new();
        match encoding {
            Some("br") => {
                let mut unpacking = brotli::Decompressor::new(&*bytes, 4096);
                unpacking.read_to_end(&mut unpacked).unwrap();
            }
            Some(_) => {
                let mut unpacking = flate2::read::GzDecoder::new(&*bytes);
                unpacking.read_to_end(&mut unpacked).unwrap();
            }
            None => unpacked.extend_from_slice(&bytes),
        }
        assert!(unpacked == plain(APP_CSS), "{takes}");
    }
}

#[tokio::test]
async fn a_tag_stands_for_one_packing_only() {
    let mut tags = BTreeSet::new();
    for takes in ["br", "gzip", "identity"] {
        let (head, _) = style_with(header::ACCEPT_ENCODING, takes).await;
        tags.insert(head.headers()[header::ETAG].to_str().unwrap().to_owned());
    }
    assert_eq!(tags.len(), 3);
    let unpacked = tags.iter().min_by_key(|tag| tag.len()).unwrap();
    for (known, status) in [
        (unpacked.clone(), StatusCode::NOT_MODIFIED),
        (format!("\"other\", W/{unpacked}"), StatusCode::NOT_MODIFIED),
        ("*".to_owned(), StatusCode::NOT_MODIFIED),
        ("\"other\"".to_owned(), StatusCode::OK),
    ] {
        let (head, _) = style_with(header::IF_NONE_MATCH, &known).await;
        assert_eq!(head.status(), status, "{known}");
    }
}

#[tokio::test]
async fn a_name_without_its_hash_or_with_an_older_one_is_not_found() {
    for name in ["app.css", "app-0000000000000000.css", "b612-licence.txt"] {
        let request = Request::get(format!("/static/{name}"));
        let (head, _) = answer(request.body(Body::empty()).unwrap()).await;
        assert_eq!(head.status(), StatusCode::NOT_FOUND, "{name}");
    }
}

#[tokio::test]
async fn asking_for_the_head_alone_gives_no_bytes() {
    let request = Request::builder().method(Method::HEAD).uri(APP_CSS);
    let (head, bytes) = answer(request.body(Body::empty()).unwrap()).await;
    assert_eq!(head.status(), StatusCode::OK);
    assert!(bytes.is_empty() && head.headers().contains_key(header::ETAG));
}

#[test]
fn files_that_name_others_name_them_by_their_served_addresses() {
    let style = std::str::from_utf8(plain(APP_CSS)).unwrap();
    for address in [B612_400_WOFF2, B612_700_WOFF2] {
        assert!(style.contains(&format!("url(\"{address}\")")), "{address}");
    }
    for script in [APP_JS, FORM_JS, PAD_JS] {
        let text = std::str::from_utf8(plain(script)).unwrap();
        assert!(text.contains(&format!("from \"{DOM_JS}\";")), "{script}");
    }
}

/// What is not our own is what was taken in, byte for byte, and nothing else is.
#[test]
fn every_file_that_is_not_our_own_has_the_checksum_on_file() {
    let known = fs::read_to_string(FilePath::new(FOLDER).join("checksums.txt")).unwrap();
    let mut found = String::new();
    let list = |folder: &str| {
        let entries = fs::read_dir(FilePath::new(FOLDER).join(folder)).unwrap();
        entries.map(|entry| entry.unwrap().path())
    };
    let decoder = list("").filter(|path| {
        path.file_stem()
            .unwrap()
            .to_str()
            .unwrap()
            .starts_with("jsqr")
    });
    let paths: BTreeSet<_> = list("font").chain(decoder).collect();
    for path in paths {
        for byte in Sha256::digest(fs::read(&path).unwrap()) {
            write!(found, "{byte:02x}").unwrap();
        }
        let name = path.strip_prefix(FOLDER).unwrap().to_str().unwrap();
        writeln!(found, "  {name}").unwrap();
    }
    assert_eq!(found, known);
}

/// Our own files stay small enough to read, and to send over a shop's Wi-Fi.
#[test]
fn our_own_files_stay_small() {
    for (name, most_bytes) in [
        // Labels in millimetres and photos are 1.4 kB of it.
        ("app.css", 28_800),
        ("print.css", 4_000),
        ("app.js", 8_000),
        ("form.js", 10_500),
        ("pad.js", 8_000),
        ("readings.js", 2_000),
        // Photos that wait for their jobs are 3 kB of it.
        ("outbox.js", 15_000),
        ("limits.js", 2_500),
        ("named_unit.js", 2_500),
        ("holding.js", 1_500),
        ("saving.js", 9_500),
        ("tablet.js", 7_000),
        ("worker.js", 6_500),
    ] {
        let bytes = fs::metadata(FilePath::new(FOLDER).join(name))
            .unwrap()
            .len();
        assert!(bytes < most_bytes, "{name} has {bytes} bytes");
    }
}
