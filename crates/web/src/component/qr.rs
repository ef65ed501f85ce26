//! A QR code (ISO/IEC 18004), drawn as one path.

use std::fmt::Write as _;

use askama::Template;
use qrcode::{Color, EcLevel, QrCode};

use crate::WebError;

/// Modules of white around the code that a reader needs: 4, by ISO/IEC 18004.
const QUIET: usize = 4;

/// A code on a page; its text stands beside it for those who cannot scan it.
#[derive(Template, Clone, Debug)]
#[template(path = "component/qr.html")]
pub(crate) struct Qr {
    /// Modules of one side, the quiet zone included.
    side: usize,
    /// The dark modules, a run in a row each.
    path: String,
}

impl Qr {
    /// The code of a text, readable with up to 15 % of it soiled.
    pub(crate) fn of(text: &str) -> Result<Self, WebError> {
        let code =
            QrCode::with_error_correction_level(text, EcLevel::M).map_err(WebError::fault)?;
        let width = code.width();
        let mut path = String::new();
        for (y, row) in code.to_colors().chunks(width).enumerate() {
            let mut x = 0;
            for run in row.chunk_by(|one, next| one == next) {
                if run.first() == Some(&Color::Dark) {
                    let length = run.len();
                    write!(path, "M{} {}h{length}v1h-{length}z", x + QUIET, y + QUIET)
                        .map_err(WebError::fault)?;
                }
                x += run.len();
            }
        }
        Ok(Self {
            side: width + 2 * QUIET,
            path,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::{QUIET, Qr};

    /// ISO/IEC 18004: a version has 17 + 4 × version modules, and three corners hold a pattern whose
    /// first row is seven dark modules.
    #[test]
    fn a_code_has_the_corners_and_the_size_of_its_version() {
        let code = Qr::of("0123456789ABCDEFGHJKMNPQRS").unwrap();
        let modules = code.side - 2 * QUIET;
        assert_eq!((modules - 17) % 4, 0);
        let right = QUIET + modules - 7;
        for (x, y) in [(QUIET, QUIET), (right, QUIET), (QUIET, right)] {
            assert!(code.path.contains(&format!("M{x} {y}h7v1h-7z")), "{x} {y}");
        }
        assert!(
            Qr::of(&"A".repeat(5_000)).is_err(),
            "more than any code holds"
        );
    }
}
