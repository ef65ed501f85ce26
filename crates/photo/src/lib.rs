//! What becomes of a picture that somebody sends: it is decoded within a budget and drawn anew.
//!
//! Nothing of the file that came goes into the one that is kept: no place, no camera, no thumbnail,
//! no profile, no second file hidden behind the first. What cannot be drawn is refused. Pure: no
//! clock, no file, no network.

mod jpeg;

use std::io::Cursor;

use image::codecs::jpeg::JpegEncoder;
use image::metadata::Orientation;
use image::{DynamicImage, ImageDecoder, ImageFormat, ImageReader, Limits, RgbImage};

/// The most bytes of a picture that is looked at: 10 MiB.
pub const MOST_BYTES: usize = 10 * 1024 * 1024;
/// The most pixels of one: 40 million, more than a phone takes.
pub const MOST_PIXELS: u64 = 40_000_000;
/// The longest side of the picture that is kept, in pixels.
pub const LONGEST_SIDE: u32 = 2048;

/// What decoding may take at once: 116 MiB, enough for the most pixels in three colours. A picture that would take more is refused by its header.
const BUDGET: u64 = 116 * 1024 * 1024;
/// No real picture is longer than this, in pixels.
const LONGEST_SENT: u32 = 30_000;
/// JPEG quality of the picture that is kept, of 100.
const QUALITY: u8 = 85;

/// A picture as it is kept: upright, with nothing in it but its pixels.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Clean {
    /// The file.
    pub jpeg: Vec<u8>,
    /// In pixels.
    pub width: u32,
    /// In pixels.
    pub height: u32,
}

/// Why a picture was not taken. Lower case, no full stop: what was found, then what is taken.
#[derive(Clone, Copy, PartialEq, Eq, Debug, thiserror::Error)]
pub enum Refused {
    /// Nothing came, or a file of another kind.
    #[error(
        "found a file that is no JPEG, PNG or WebP picture; take the photo with the camera or choose one of these"
    )]
    NotAPicture,
    /// More bytes than are looked at.
    #[error("found more than {} MiB; set the camera to smaller pictures or cut it down", MOST_BYTES / 1024 / 1024)]
    TooManyBytes,
    /// The header says more pixels than are drawn.
    #[error(
        "found a picture of {width} × {height} pixels, which is more than is taken here; set the camera to smaller pictures or cut it down"
    )]
    TooManyPixels {
        /// In pixels.
        width: u32,
        /// In pixels.
        height: u32,
    },
    /// It begins as a picture and does not go on as one.
    #[error("found a picture that breaks off or cannot be drawn; take it again")]
    Broken,
}

/// Draws a picture anew: JPEG, PNG or WebP in, told by its first bytes; JPEG out, upright, its longest
/// side [`LONGEST_SIDE`] at most. The same bytes in give the same bytes out.
///
/// Takes up to some 150 MiB and a second: to be run one or two at a time, where nobody waits.
///
/// # Errors
/// [`Refused`], before memory is spent where the header tells.
pub fn clean(sent: &[u8]) -> Result<Clean, Refused> {
    if sent.len() > MOST_BYTES {
        return Err(Refused::TooManyBytes);
    }
    let format = image::guess_format(sent).map_err(|_| Refused::NotAPicture)?;
    if !matches!(
        format,
        ImageFormat::Jpeg | ImageFormat::Png | ImageFormat::WebP
    ) {
        return Err(Refused::NotAPicture);
    }
    let (picture, orientation) = decode(sent, format)?;
    let longest = picture.width().max(picture.height());
    let mut picture = if longest > LONGEST_SIDE {
        // First smaller, then turned: a turn makes a copy.
        picture.thumbnail(LONGEST_SIDE, LONGEST_SIDE)
    } else {
        picture
    };
    picture.apply_orientation(orientation);
    encode(&on_white(picture))
}

fn decode(sent: &[u8], format: ImageFormat) -> Result<(DynamicImage, Orientation), Refused> {
    // The size is not limited here, so that it can be told.
    let mut limits = Limits::no_limits();
    limits.max_alloc = Some(BUDGET);
    let mut reader = ImageReader::with_format(Cursor::new(sent), format);
    reader.limits(limits);
    let mut decoder = reader.into_decoder().map_err(|_| Refused::Broken)?;
    let (width, height) = decoder.dimensions();
    let pixels = u64::from(width).saturating_mul(u64::from(height));
    let per_pixel = match format {
        ImageFormat::Jpeg => jpeg::bytes_a_pixel(sent),
        // Its planes beside what comes out, and a canvas where it moves.
        ImageFormat::WebP => 8,
        _ => u64::from(decoder.color_type().bytes_per_pixel()),
    };
    let too_long = width.max(height) > LONGEST_SENT;
    if too_long || pixels > MOST_PIXELS || pixels.saturating_mul(per_pixel) > BUDGET {
        return Err(Refused::TooManyPixels { width, height });
    }
    let orientation = decoder.orientation().unwrap_or(Orientation::NoTransforms);
    let picture = DynamicImage::from_decoder(decoder).map_err(|_| Refused::Broken)?;
    Ok((picture, orientation))
}

/// JPEG cannot be seen through: what was laid on white looks as it did on a page.
fn on_white(picture: DynamicImage) -> RgbImage {
    if !picture.color().has_alpha() {
        return picture.into_rgb8();
    }
    let seen_through = picture.into_rgba8();
    let mut laid = RgbImage::new(seen_through.width(), seen_through.height());
    for (to, from) in laid.pixels_mut().zip(seen_through.pixels()) {
        let [colours @ .., alpha] = from.0;
        to.0 = colours.map(|colour| over_white(colour, alpha));
    }
    laid
}

fn over_white(colour: u8, alpha: u8) -> u8 {
    let (colour, alpha) = (u32::from(colour), u32::from(alpha));
    let mixed = (colour * alpha + 255 * (255 - alpha) + 127) / 255;
    u8::try_from(mixed).unwrap_or(u8::MAX)
}

fn encode(picture: &RgbImage) -> Result<Clean, Refused> {
    let mut jpeg = Vec::new();
    JpegEncoder::new_with_quality(&mut jpeg, QUALITY)
        .encode_image(picture)
        .map_err(|_| Refused::Broken)?;
    Ok(Clean {
        jpeg,
        width: picture.width(),
        height: picture.height(),
    })
}

#[cfg(test)]
mod tests;
