use std::io::Cursor;

use image::{DynamicImage, ImageFormat, Rgb, RgbImage, Rgba, RgbaImage};

use super::{LONGEST_SIDE, MOST_BYTES, Refused, clean};

fn file(picture: &DynamicImage, format: ImageFormat) -> Vec<u8> {
    let mut bytes = Vec::new();
    picture
        .write_to(&mut Cursor::new(&mut bytes), format)
        .unwrap();
    bytes
}

/// Left half red, right half blue.
fn halves(width: u32, height: u32) -> DynamicImage {
    let colour = |x| {
        if x < width / 2 {
            Rgb([200, 0, 0])
        } else {
            Rgb([0, 0, 200])
        }
    };
    RgbImage::from_fn(width, height, |x, _| colour(x)).into()
}

fn drawn(jpeg: &[u8]) -> RgbImage {
    image::load_from_memory_with_format(jpeg, ImageFormat::Jpeg)
        .unwrap()
        .into_rgb8()
}

/// A block of EXIF with one entry, the orientation, and words behind it, put after the first mark.
fn with_exif(jpeg: &[u8], orientation: u8, words: &[u8]) -> Vec<u8> {
    let mut exif = b"Exif\0\0II*\0\x08\0\0\0\x01\0\x12\x01\x03\0\x01\0\0\0".to_vec();
    exif.extend([orientation, 0, 0, 0, 0, 0, 0, 0]);
    exif.extend(words);
    let length = u16::try_from(exif.len() + 2).unwrap().to_be_bytes();
    let (start, rest) = jpeg.split_at(2);
    [start, &[0xff, 0xe1], &length, &exif, rest].concat()
}

fn holds(bytes: &[u8], words: &[u8]) -> bool {
    bytes.windows(words.len()).any(|window| window == words)
}

#[test]
fn every_kind_that_is_taken_comes_out_as_a_jpeg_of_the_same_size() {
    for format in [ImageFormat::Jpeg, ImageFormat::Png, ImageFormat::WebP] {
        let kept = clean(&file(&halves(64, 48), format)).unwrap();
        assert_eq!((kept.width, kept.height), (64, 48), "{format:?}");
        let drawn = drawn(&kept.jpeg);
        assert_eq!(drawn.dimensions(), (64, 48));
        let (left, right) = (drawn.get_pixel(8, 24), drawn.get_pixel(56, 24));
        assert!(left.0[0] > 180 && left.0[2] < 30, "{format:?} {left:?}");
        assert!(right.0[2] > 180 && right.0[0] < 30, "{format:?} {right:?}");
    }
}

#[test]
fn the_same_picture_comes_out_the_same() {
    let sent = file(&halves(300, 200), ImageFormat::Png);
    assert_eq!(clean(&sent), clean(&sent));
}

#[test]
fn a_large_picture_is_made_smaller_and_keeps_its_shape() {
    let kept = clean(&file(&halves(6000, 3000), ImageFormat::Jpeg)).unwrap();
    assert_eq!((kept.width, kept.height), (LONGEST_SIDE, LONGEST_SIDE / 2));
    let long = clean(&file(&halves(9000, 12), ImageFormat::Png)).unwrap();
    assert_eq!(long.width, LONGEST_SIDE);
    assert!(long.height > 0);
}

#[test]
fn a_picture_that_lies_on_its_side_is_set_upright_and_its_notes_are_gone() {
    let plain = file(&halves(64, 48), ImageFormat::Jpeg);
    // 6: the camera was held so that the picture has to be turned a quarter to the right.
    let sent = with_exif(&plain, 6, b"47.6205 N 122.3493 W");
    assert!(holds(&sent, b"47.6205 N"));
    let kept = clean(&sent).unwrap();
    assert_eq!((kept.width, kept.height), (48, 64));
    let upright = drawn(&kept.jpeg);
    assert!(
        upright.get_pixel(24, 8).0[0] > 180,
        "the left has become the top"
    );
    for left in [b"47.6205 N".as_slice(), b"Exif", b"\xff\xe1"] {
        assert!(!holds(&kept.jpeg, left));
    }
}

#[test]
fn a_file_hidden_behind_a_picture_is_gone() {
    let mut sent = file(&halves(32, 32), ImageFormat::Png);
    sent.extend(b"PK\x03\x04<script>alert(1)</script>");
    let kept = clean(&sent).unwrap();
    assert!(!holds(&kept.jpeg, b"<script>") && !holds(&kept.jpeg, b"PK\x03\x04"));
}

#[test]
fn what_can_be_seen_through_is_laid_on_white() {
    let glass = RgbaImage::from_pixel(16, 16, Rgba([10, 20, 30, 0]));
    let kept = clean(&file(&glass.into(), ImageFormat::Png)).unwrap();
    assert!(
        drawn(&kept.jpeg)
            .pixels()
            .all(|pixel| pixel.0.iter().all(|colour| *colour > 250))
    );
}

#[test]
fn what_is_no_picture_is_refused_and_says_so() {
    let gif = b"GIF89a\x01\0\x01\0\0\0\0;";
    for sent in [
        b"".as_slice(),
        b"hello",
        gif,
        b"<svg xmlns='http://www.w3.org/2000/svg'/>",
        b"%PDF-1.7",
    ] {
        assert_eq!(clean(sent), Err(Refused::NotAPicture));
    }
    let mut cut = file(&halves(400, 400), ImageFormat::Png);
    cut.truncate(cut.len() / 2);
    assert_eq!(clean(&cut), Err(Refused::Broken));
    assert_eq!(
        clean(&vec![0xff; MOST_BYTES + 1]),
        Err(Refused::TooManyBytes)
    );
}

/// Only a header: whatever takes its word for the size has spent the memory already.
#[test]
fn a_header_that_promises_too_much_is_refused_for_what_it_promises() {
    let mut png = file(&halves(8, 8), ImageFormat::Png);
    png[16..24].copy_from_slice(&[0, 0, 0xc3, 0x50, 0, 0, 0xc3, 0x50]);
    let crc = crc32(&png[12..29]);
    png[29..33].copy_from_slice(&crc.to_be_bytes());
    let refused = clean(&png).unwrap_err();
    assert_eq!(
        refused,
        Refused::TooManyPixels {
            width: 50_000,
            height: 50_000
        }
    );
    assert!(refused.to_string().contains("50000 × 50000 pixels"));
}

/// The sum a PNG keeps of each part, bit by bit (ISO/IEC 15948, annex D).
fn crc32(bytes: &[u8]) -> u32 {
    !bytes.iter().fold(u32::MAX, |crc, byte| {
        (0..8).fold(crc ^ u32::from(*byte), |crc, _| {
            if crc & 1 == 1 {
                0xedb8_8320 ^ (crc >> 1)
            } else {
                crc >> 1
            }
        })
    })
}

/// A frame of one pass needs only what comes out; one of several all its coefficients.
#[test]
fn a_jpeg_of_several_passes_counts_dearer() {
    let sent = file(&halves(16, 16), ImageFormat::Jpeg);
    assert_eq!(super::jpeg::bytes_a_pixel(&sent), 3);
    let frame = sent
        .windows(2)
        .position(|mark| mark == [0xff, 0xc0])
        .unwrap();
    let mut passes = sent.clone();
    passes[frame + 1] = 0xc2;
    assert!(super::jpeg::bytes_a_pixel(&passes) > 3);
    assert_eq!(super::jpeg::bytes_a_pixel(&sent[..frame]), 11);
    assert_eq!(super::jpeg::bytes_a_pixel(b"\xff\xd8\xff"), 11);
}
