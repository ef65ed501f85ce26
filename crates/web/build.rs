//! Builds every file of `static` in, under a name that ends in a hash of its contents.
//!
//! For `app.css` this writes `pub(crate) const APP_CSS: &str = "/static/app-<hash>.css";`, so a page
//! that names a file which does not exist does not compile.

use std::{
    collections::BTreeMap,
    env,
    error::Error,
    fmt::Write as _,
    fs,
    io::Write as _,
    path::{Path, PathBuf},
};

use flate2::{Compression, write::GzEncoder};
use sha2::{Digest, Sha256};

const FOLDER: &str = "../../static";
/// What the pages are made of; with the files it makes up the version of a build.
const TEMPLATES: &str = "../../templates";
/// For people who work on the files, not for browsers.
const NOT_SERVED: [&str; 2] = ["README.md", "checksums.txt"];
/// Hash digits in a name: 64 bits, far beyond what a handful of files can collide in.
const HASH_DIGITS: usize = 16;
/// How a script names every file that is served but those for people to read, itself left out.
const EVERY_FILE: &str = "\"./*\"";

type Stopped = Box<dyn Error>;

/// Ending, content type, and whether it gets smaller when packed.
const KINDS: [(&str, &str, bool); 7] = [
    ("css", "text/css; charset=utf-8", true),
    ("js", "text/javascript; charset=utf-8", true),
    ("png", "image/png", false),
    ("svg", "image/svg+xml", true),
    ("txt", "text/plain; charset=utf-8", true),
    ("webmanifest", "application/manifest+json", true),
    ("woff2", "font/woff2", false),
];

fn main() -> Result<(), Stopped> {
    println!("cargo::rerun-if-changed={FOLDER}");
    println!("cargo::rerun-if-changed={TEMPLATES}");
    let into = PathBuf::from(env::var_os("OUT_DIR").ok_or("cargo names no folder to build in")?);
    let mut waiting = list(Path::new(FOLDER))?;
    waiting.sort();

    let mut addresses = BTreeMap::new();
    let mut list = String::new();
    while !waiting.is_empty() {
        // A file that names others has to wait for their addresses.
        let (ready, rest) = divide(waiting, &addresses)?;
        if ready.is_empty() {
            return Err(format!(
                "{rest:?}: each names a file that static does not hold, or one another"
            )
            .into());
        }
        for path in ready {
            println!("cargo::rerun-if-changed={}", path.display());
            list.push_str(&build_in(&path, &into, &mut addresses)?);
        }
        waiting = rest;
    }
    let mut code = String::new();
    for (path, address) in &addresses {
        let name = const_name(path);
        writeln!(code, "pub(crate) const {name}: &str = \"{address}\";")?;
    }
    writeln!(code, "static ASSETS: &[Asset] = &[\n{list}];")?;
    let version = version(&addresses)?;
    writeln!(code, "pub(crate) const VERSION: &str = \"{version}\";")?;
    fs::write(into.join("assets.rs"), code)?;
    Ok(())
}

/// Writes one file and its packed forms, and gives the code that describes it.
fn build_in(
    path: &Path,
    into: &Path,
    addresses: &mut BTreeMap<PathBuf, String>,
) -> Result<String, Stopped> {
    let within = path.strip_prefix(FOLDER)?.to_path_buf();
    let (_, content_type, packs) = KINDS
        .into_iter()
        .find(|(ending_known, ..)| *ending_known == ending(path))
        .ok_or_else(|| {
            format!(
                "static/{}: no content type is known for it",
                within.display()
            )
        })?;
    let mut contents = fs::read(path)?;
    if let Some(naming) = naming(path) {
        let text = naming.with_addresses(&String::from_utf8(contents)?, addresses)?;
        contents = text
            .replace(EVERY_FILE, &every_file(addresses))
            .into_bytes();
    }
    let hash = hash(&contents)?;
    let stem = within
        .file_stem()
        .and_then(|stem| stem.to_str())
        .ok_or("a name that is no text")?;
    let served = format!("{stem}-{hash}.{}", ending(path));
    let address = format!("/static/{served}");
    if addresses.values().any(|known| *known == address) {
        return Err(format!(
            "static/{}: another file would have the same address",
            within.display()
        )
        .into());
    }
    let mut forms = String::new();
    if packs {
        for (encoding, packed) in [("br", brotli(&contents)?), ("gzip", gzip(&contents)?)] {
            forms.push_str(&form(
                into,
                &format!("{served}.{encoding}"),
                (encoding, &hash),
                &packed,
            )?);
        }
    }
    forms.push_str(&form(into, &served, ("", &hash), &contents)?);
    let code = format!(
        "Asset {{ url: {}, content_type: \"{content_type}\", forms: &[\n{forms}] }},\n",
        const_name(&within)
    );
    addresses.insert(within, address);
    Ok(code)
}

/// The addresses of all files, as a script lists them.
fn every_file(addresses: &BTreeMap<PathBuf, String>) -> String {
    let served = addresses.iter().filter(|(path, _)| ending(path) != "txt");
    let quoted: Vec<String> = served.map(|(_, it)| format!("\"{it}\"")).collect();
    quoted.join(", ")
}

/// Writes one form of a file. Two packings are two sequences of bytes, so their tags differ.
fn form(
    into: &Path,
    file: &str,
    (encoding, hash): (&str, &str),
    bytes: &[u8],
) -> Result<String, Stopped> {
    fs::write(into.join(file), bytes)?;
    Ok(format!(
        "Form {{ encoding: \"{encoding}\", tag: \"\\\"{hash}{encoding}\\\"\", \
         bytes: include_bytes!(concat!(env!(\"OUT_DIR\"), \"/{file}\")) }},\n"
    ))
}

fn list(folder: &Path) -> Result<Vec<PathBuf>, Stopped> {
    let mut found = Vec::new();
    for entry in fs::read_dir(folder)? {
        let path = entry?.path();
        if path.is_dir() {
            found.extend(list(&path)?);
        } else if !NOT_SERVED.iter().any(|name| path.ends_with(name)) {
            found.push(path);
        }
    }
    Ok(found)
}

/// How one kind of file names another.
struct Naming {
    opens: &'static str,
    /// What of that stays before the address.
    keeps: &'static str,
}

fn naming(path: &Path) -> Option<Naming> {
    match ending(path) {
        "css" => Some(Naming {
            opens: "url(\"",
            keeps: "url(\"",
        }),
        "js" => Some(Naming {
            opens: "from \"./",
            keeps: "from \"",
        }),
        "webmanifest" => Some(Naming {
            opens: "\"src\": \"./",
            keeps: "\"src\": \"",
        }),
        _ => None,
    }
}

impl Naming {
    /// The text in pieces: what stands before a name, and the name; at the end without one.
    fn pieces<'text>(&self, text: &'text str) -> Vec<(&'text str, Option<&'text Path>)> {
        let mut pieces = Vec::new();
        let mut rest = text;
        while let Some((before, after)) = rest.split_once(self.opens) {
            let (name, after) = after.split_once('"').unwrap_or((after, ""));
            pieces.push((before, Some(Path::new(name))));
            rest = after;
        }
        pieces.push((rest, None));
        pieces
    }

    fn with_addresses(
        &self,
        text: &str,
        addresses: &BTreeMap<PathBuf, String>,
    ) -> Result<String, Stopped> {
        let mut written = String::with_capacity(text.len());
        for (before, name) in self.pieces(text) {
            written.push_str(before);
            if let Some(name) = name {
                let address = addresses
                    .get(name)
                    .ok_or("a file is named before its address is known")?;
                write!(written, "{}{address}\"", self.keeps)?;
            }
        }
        Ok(written)
    }
}

/// Those whose named files all have addresses, and the rest. Whoever names every file comes last.
fn divide(
    paths: Vec<PathBuf>,
    addresses: &BTreeMap<PathBuf, String>,
) -> Result<(Vec<PathBuf>, Vec<PathBuf>), Stopped> {
    let is_last = paths.len() == 1;
    let (mut ready, mut rest) = (Vec::new(), Vec::new());
    for path in paths {
        let is_ready = match naming(&path) {
            None => true,
            Some(naming) => {
                let text = fs::read_to_string(&path)?;
                let mut names = naming
                    .pieces(&text)
                    .into_iter()
                    .filter_map(|(_, name)| name);
                let names_all = text.contains(EVERY_FILE);
                (!names_all || is_last) && names.all(|name| addresses.contains_key(name))
            }
        };
        if is_ready {
            ready.push(path);
        } else {
            rest.push(path);
        }
    }
    Ok((ready, rest))
}

fn ending(path: &Path) -> &str {
    path.extension()
        .and_then(|ending| ending.to_str())
        .unwrap_or_default()
}

/// `font/b612-400.woff2` becomes `B612_400_WOFF2`.
fn const_name(path: &Path) -> String {
    let name = path
        .file_name()
        .and_then(|name| name.to_str())
        .unwrap_or_default();
    name.chars()
        .map(|letter| {
            if letter.is_ascii_alphanumeric() {
                letter.to_ascii_uppercase()
            } else {
                '_'
            }
        })
        .collect()
}

/// Another one whenever a file or a page is another one: what a tablet keeps of one version must not
/// be mixed with another's.
fn version(addresses: &BTreeMap<PathBuf, String>) -> Result<String, Stopped> {
    let mut pages = list(Path::new(TEMPLATES))?;
    pages.sort();
    let mut all = env::var("CARGO_PKG_VERSION")?.into_bytes();
    for address in addresses.values() {
        all.extend(address.bytes());
    }
    for page in pages {
        all.extend(fs::read(page)?);
    }
    hash(&all)
}

fn hash(contents: &[u8]) -> Result<String, Stopped> {
    let mut digits = String::new();
    for byte in Sha256::digest(contents) {
        write!(digits, "{byte:02x}")?;
    }
    digits.truncate(HASH_DIGITS);
    Ok(digits)
}

fn brotli(contents: &[u8]) -> Result<Vec<u8>, Stopped> {
    let mut packed = Vec::new();
    let params = brotli::enc::BrotliEncoderParams::default();
    brotli::BrotliCompress(&mut &*contents, &mut packed, &params)?;
    Ok(packed)
}

fn gzip(contents: &[u8]) -> Result<Vec<u8>, Stopped> {
    let mut packing = GzEncoder::new(Vec::new(), Compression::best());
    packing.write_all(contents)?;
    Ok(packing.finish()?)
}
