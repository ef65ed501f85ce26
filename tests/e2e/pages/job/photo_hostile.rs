//! What a browser could send as a photo to do harm: refused or cleaned, quickly, in little memory.

#![expect(
    clippy::indexing_slicing,
    reason = "files are put together by hand here, and one that is too short has failed the test"
)]

use std::{fs, io::Write, time::Duration};

use flate2::{Compression, Crc, write::ZlibEncoder};
use image::ImageFormat;

use super::photo::{add, addresses, files, parts, picture};
use crate::pages::{
    shop::{As, Shop},
    void::top_up,
};

const TECHNICIAN: As = As::Technician;
/// Of the server's own time: what else the machine does meanwhile plays no part.
const WITHIN: Duration = Duration::from_secs(2);
const MOST_MEMORY_KIB: u64 = 256 * 1024;
/// Stands in every file that carries something along; nothing that is kept may hold it.
const HIDDEN: &[u8] = b"<script>alert('47.6205 N, 122.3493 W')</script>";

/// What becomes of it.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
enum End {
    /// This status, and nothing is kept.
    Refused(u16),
    /// Kept, drawn anew.
    Cleaned,
    /// Either: a picture that breaks off is drawn as far as it goes, or not at all.
    Either,
}

use End::{Cleaned, Either, Refused};

fn chunk(kind: [u8; 4], data: &[u8]) -> Vec<u8> {
    let mut crc = Crc::new();
    crc.update(&kind);
    crc.update(data);
    let length = u32::try_from(data.len()).unwrap().to_be_bytes();
    [&length, kind.as_slice(), data, &crc.sum().to_be_bytes()].concat()
}

fn packed(bytes: &[u8]) -> Vec<u8> {
    let mut packing = ZlibEncoder::new(Vec::new(), Compression::best());
    packing.write_all(bytes).unwrap();
    packing.finish().unwrap()
}

/// A PNG with this header, these chunks after it and these bytes, packed, as its pixels.
fn png((width, height): (u32, u32), (depth, colour): (u8, u8), more: &[u8], raw: &[u8]) -> Vec<u8> {
    let size = [width.to_be_bytes(), height.to_be_bytes()].concat();
    let head = [&size, [depth, colour, 0, 0, 0].as_slice()].concat();
    [
        b"\x89PNG\r\n\x1a\n".as_slice(),
        &chunk(*b"IHDR", &head),
        more,
        &chunk(*b"IDAT", &packed(raw)),
        &chunk(*b"IEND", b""),
    ]
    .concat()
}

/// A small grey PNG that carries something along.
fn png_with(more: &[u8]) -> Vec<u8> {
    png((8, 8), (8, 0), more, &[0; 72])
}

/// A JPEG with more after its first mark.
fn jpeg_with(more: &[u8]) -> Vec<u8> {
    let jpeg = picture(9, ImageFormat::Jpeg);
    [&jpeg[..2], more, &jpeg[2..]].concat()
}

fn segment(mark: u8, data: &[u8]) -> Vec<u8> {
    let length = u16::try_from(data.len() + 2).unwrap().to_be_bytes();
    [&[0xff, mark], length.as_slice(), data].concat()
}

/// A JPEG whose header says another kind of frame and another size than it has.
fn jpeg_that_says(frame: u8, side: u16) -> Vec<u8> {
    let mut jpeg = picture(9, ImageFormat::Jpeg);
    let at = jpeg
        .windows(2)
        .position(|mark| mark == [0xff, 0xc0])
        .unwrap();
    jpeg[at + 1] = frame;
    for place in [at + 5, at + 7] {
        jpeg[place..place + 2].copy_from_slice(&side.to_be_bytes());
    }
    jpeg
}

fn cut(mut bytes: Vec<u8>) -> Vec<u8> {
    bytes.truncate(bytes.len() / 2);
    bytes
}

fn webp(kind: [u8; 4], data: &[u8]) -> Vec<u8> {
    let length = u32::try_from(data.len()).unwrap();
    let chunk = [&kind, length.to_le_bytes().as_slice(), data].concat();
    let whole = u32::try_from(chunk.len() + 4).unwrap().to_le_bytes();
    [b"RIFF", whole.as_slice(), b"WEBP", &chunk].concat()
}

fn no_pictures() -> Vec<(&'static str, Vec<u8>, End)> {
    let zip = [b"PK\x03\x04".as_slice(), HIDDEN].concat();
    let page = [b"<!doctype html>".as_slice(), HIDDEN].concat();
    let drawing = [
        b"<svg xmlns='http://www.w3.org/2000/svg'>".as_slice(),
        HIDDEN,
    ]
    .concat();
    let tiff = b"II*\0\x08\0\0\0\x01\0\0\x01\x04\0\x01\0\0\0\xff\xff\xff\x7f".to_vec();
    let ftyp = |brand: &[u8]| [b"\0\0\0\x18ftyp".as_slice(), brand, HIDDEN].concat();
    [
        ("nothing", Vec::new()),
        ("plain text", b"not a photo at all".to_vec()),
        ("a drawing with a script", drawing),
        ("a page called .jpg", page),
        (
            "GIF",
            b"GIF89a\xff\xff\xff\xff\x80\0\0\0\0\0\xff\xff\xff".to_vec(),
        ),
        (
            "BMP of two thousand million pixels",
            b"BM\xff\xff\xff\x7f\0\0\0\0\x36\0\0\0\x28\0\0\0\xff\xff\0\0\xff\x7f\0\0".to_vec(),
        ),
        ("TIFF", tiff),
        (
            "PDF with a script",
            [b"%PDF-1.7\n/JS ".as_slice(), HIDDEN].concat(),
        ),
        ("ZIP", zip),
        ("packed nothing", packed(&vec![0; 64 << 20])),
        ("a program", b"\x7fELF\x02\x01\x01\0".to_vec()),
        ("HEIC", ftyp(b"heic")),
        ("AVIF", ftyp(b"avif")),
        ("ten million letters", vec![b'A'; 10_000_000]),
    ]
    .into_iter()
    .map(|(name, bytes)| (name, bytes, Refused(422)))
    .collect()
}

fn jpegs() -> Vec<(&'static str, Vec<u8>, End)> {
    let whole = || picture(9, ImageFormat::Jpeg);
    let place = [
        b"Exif\0\0MM\0*\0\0\0\x08\0\x01\x88\x25\0\x04\0\0\0\x01\0\0\0\x1a\0\0\0\0".as_slice(),
        HIDDEN,
    ];
    let many: Vec<u8> = (0..150)
        .flat_map(|_| segment(0xe1, &vec![b'x'; 65_000]))
        .collect();
    vec![
        (
            "the first mark of a JPEG",
            b"\xff\xd8\xff".to_vec(),
            Refused(422),
        ),
        ("a JPEG that breaks off", cut(whole()), Either),
        (
            "a JPEG of 65,500 × 65,500",
            jpeg_that_says(0xc0, 65_500),
            Refused(422),
        ),
        (
            "a JPEG in passes of 8,000 × 8,000",
            jpeg_that_says(0xc2, 8_000),
            Refused(422),
        ),
        (
            "a JPEG in passes of 4,000 × 4,000 without them",
            jpeg_that_says(0xc2, 4_000),
            Either,
        ),
        (
            "a JPEG of 6,000 × 6,000 without its pixels",
            jpeg_that_says(0xc0, 6_000),
            Either,
        ),
        ("a JPEG of no size", jpeg_that_says(0xc0, 0), Refused(422)),
        (
            "five million fill bytes",
            jpeg_with(&vec![0xff; 5_000_000]),
            Either,
        ),
        (
            "a JPEG with ten million bytes of notes",
            jpeg_with(&many),
            Either,
        ),
        (
            "a JPEG that says where it was taken",
            jpeg_with(&segment(0xe1, &place.concat())),
            Cleaned,
        ),
        (
            "a JPEG with a remark",
            jpeg_with(&segment(0xfe, HIDDEN)),
            Cleaned,
        ),
        (
            "a page behind a JPEG",
            [whole(), HIDDEN.to_vec()].concat(),
            Cleaned,
        ),
        (
            "a broken note of where it was taken",
            jpeg_with(&segment(0xe1, b"Exif\0\0II*\0\xff\xff\xff\xff")),
            Either,
        ),
    ]
}

fn pngs() -> Vec<(&'static str, Vec<u8>, End)> {
    let bomb = packed(&vec![b'A'; 200 << 20]);
    let note = chunk(*b"zTXt", &[b"Comment\0\0".as_slice(), &bomb].concat());
    let profile = chunk(*b"iCCP", &[b"profile\0\0".as_slice(), &bomb].concat());
    let words = chunk(*b"tEXt", &[b"Comment\0".as_slice(), HIDDEN].concat());
    let moves = chunk(*b"acTL", b"\x7f\xff\xff\xff\0\0\0\0");
    let mut wrong_sum = png_with(b"");
    wrong_sum[30] ^= 1;
    let rows = vec![0; 30_000 / 8 * 1_333 + 1_333];
    vec![
        (
            "a PNG of 50,000 × 50,000",
            png((50_000, 50_000), (8, 2), b"", b"x"),
            Refused(422),
        ),
        (
            "a PNG of 6,000 × 6,600 at 16 bit",
            png((6_000, 6_600), (16, 6), b"", b"x"),
            Refused(422),
        ),
        (
            "a PNG of 40 million pixels, all black",
            png((30_000, 1_333), (1, 0), b"", &rows),
            Cleaned,
        ),
        (
            "a PNG without its pixels",
            png((5_000, 5_000), (8, 2), b"", b""),
            Refused(422),
        ),
        (
            "a PNG with far more than its pixels",
            png((8, 8), (8, 0), b"", &vec![0; 100 << 20]),
            Either,
        ),
        (
            "a PNG that breaks off",
            cut(picture(9, ImageFormat::Png)),
            Refused(422),
        ),
        ("a PNG with a wrong sum", wrong_sum, Refused(422)),
        (
            "a PNG with a packed note of 200 MiB",
            png_with(&note),
            Either,
        ),
        (
            "a PNG with a packed profile of 200 MiB",
            png_with(&profile),
            Either,
        ),
        ("a PNG with words", png_with(&words), Cleaned),
        (
            "a PNG of two thousand million pictures",
            png_with(&moves),
            Either,
        ),
        (
            "a ZIP behind a PNG",
            [png_with(b""), b"PK\x03\x04".to_vec(), HIDDEN.to_vec()].concat(),
            Cleaned,
        ),
        (
            "a WebP of 16,383 × 16,383",
            webp(*b"VP8L", b"\x2f\xfe\xff\xff\x0f\0\0\0"),
            Refused(422),
        ),
        (
            "a WebP that breaks off",
            cut(picture(9, ImageFormat::WebP)),
            Refused(422),
        ),
        ("a WebP of nothing", webp(*b"VP8X", b""), Refused(422)),
    ]
}

/// The most memory the program ever held.
fn peak_kib(shop: &Shop) -> u64 {
    let status = fs::read_to_string(format!("/proc/{}/status", shop.program.id())).unwrap();
    let line = status.lines().find(|line| line.starts_with("VmHWM:"));
    line.unwrap()
        .split_whitespace()
        .nth(1)
        .unwrap()
        .parse()
        .unwrap()
}

/// The time the program spent on processors so far.
fn worked(shop: &Shop) -> Duration {
    let stat = fs::read_to_string(format!("/proc/{}/stat", shop.program.id())).unwrap();
    // The name may hold anything and ends with the last bracket; user and system time follow, in
    // hundredths of a second.
    let fields: Vec<&str> = stat
        .rsplit(')')
        .next()
        .unwrap()
        .split_whitespace()
        .collect();
    let hundredths: u64 = fields[11..13]
        .iter()
        .map(|field| field.parse::<u64>().unwrap())
        .sum();
    Duration::from_millis(10 * hundredths)
}

fn holds(bytes: &[u8], words: &[u8]) -> bool {
    bytes.windows(words.len()).any(|window| window == words)
}

#[test]
fn hostile_pictures_are_refused_or_cleaned_quickly_and_in_little_memory() {
    let shop = Shop::open();
    let all: Vec<_> = [no_pictures(), jpegs(), pngs()].concat();
    assert!(all.len() >= 40, "{}", all.len());
    for batch in all.chunks(12) {
        // A job takes 20 photos.
        let job = top_up(&shop, TECHNICIAN, "0.1");
        for (name, bytes, end) in batch {
            let facts = shop.facts();
            let body = parts(bytes, "");
            let began = worked(&shop);
            let answer = add(&shop, TECHNICIAN, &job, &body);
            let took = worked(&shop).saturating_sub(began);
            assert!(took < WITHIN, "{name} took {took:?}");
            let kept = shop.facts() - facts;
            match (end, answer.status) {
                (Refused(status), found) => assert_eq!((found, kept), (*status, 0), "{name}"),
                (Cleaned, found) => assert_eq!(found, 303, "{name}: {}", answer.body),
                (Either, found) => {
                    assert!(found == 303 || (found, kept) == (422, 0), "{name}: {found}");
                }
            }
            if answer.status == 422 {
                assert!(
                    answer.body.contains("id=\"photo-problem\""),
                    "{name}: {}",
                    answer.body
                );
            }
            let peak = peak_kib(&shop);
            assert!(peak < MOST_MEMORY_KIB, "{name}: {peak} KiB");
        }
        for photo in addresses(&shop, TECHNICIAN, &job) {
            assert_eq!(shop.get(TECHNICIAN, &photo).status, 200);
        }
    }
    for file in files(shop.data()) {
        assert!(file.starts_with(b"\xff\xd8\xff\xe0") && file.ends_with(b"\xff\xd9"));
        assert!(!holds(&file, HIDDEN) && !holds(&file, b"Exif") && !holds(&file, b"PK\x03\x04"));
    }
    shop.book_is_closed();
}

#[test]
fn hostile_forms_around_a_photo_are_refused_and_nothing_is_kept() {
    let shop = Shop::open();
    let job = top_up(&shop, TECHNICIAN, "1");
    let facts = shop.facts();
    let good = picture(9, ImageFormat::Jpeg);
    let whole = parts(&good, "");
    let field = b"--edge\r\nContent-Disposition: form-data; name=\"photo\"\r\n\r\n";
    let two = [field.as_slice(), &good, b"\r\n", &whole].concat();
    let many = [field.repeat(20_000), whole.clone()].concat();
    let unknown = String::from_utf8_lossy(&parts(b"", "")).replace("\"caption\"", "\"shop\"");
    for (name, body, status) in [
        ("a form that breaks off", cut(whole.clone()), 400),
        ("two photos", two, 422),
        ("20,000 fields", many, 400),
        ("a field that no page has", unknown.into_bytes(), 422),
        ("11 MiB", parts(&vec![0; 11 << 20], ""), 413),
        (
            "words of a megabyte",
            parts(&good, &"A".repeat(1 << 20)),
            422,
        ),
    ] {
        let began = worked(&shop);
        let answer = add(&shop, TECHNICIAN, &job, &body);
        assert_eq!(answer.status, status, "{name}: {}", answer.body);
        assert!(worked(&shop).saturating_sub(began) < WITHIN, "{name}");
    }
    let path = format!("{job}/photos");
    let send = |kind: &str, more: &[(&str, &str)], body: &[u8]| {
        shop.with_browser(TECHNICIAN, |browser| {
            let headers = [
                &[("Sec-Fetch-Site", "same-origin"), ("Content-Type", kind)],
                more,
            ]
            .concat();
            let request = browser.request(("POST", &path), &headers, b"");
            browser.send_as_it_is(&[request, body.to_vec()].concat())
        })
    };
    for kind in [
        "image/jpeg",
        "application/x-www-form-urlencoded",
        "multipart/form-data",
    ] {
        let length = good.len().to_string();
        let answer = send(kind, &[("Content-Length", &length)], &good);
        assert_eq!(answer.status, 415, "{kind}");
    }
    // Pieces that go on past every limit.
    let piece = [b"10000\r\n".to_vec(), vec![b'A'; 1 << 16], b"\r\n".to_vec()].concat();
    let began = worked(&shop);
    let endless = send(
        "multipart/form-data; boundary=edge",
        &[("Transfer-Encoding", "chunked")],
        &[piece.repeat(200), b"0\r\n\r\n".to_vec()].concat(),
    );
    assert_eq!(endless.status, 413, "{}", endless.body);
    assert!(worked(&shop).saturating_sub(began) < WITHIN);
    let peak = peak_kib(&shop);
    assert!(peak < MOST_MEMORY_KIB, "{peak} KiB");
    assert_eq!(shop.facts(), facts);
    assert!(files(shop.data()).is_empty());
    shop.book_is_closed();
}
