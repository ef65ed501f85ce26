//! How many of a page's pixels are one millimetre of a screen. A gloved finger needs its 15 mm on
//! every tablet, and no browser says how large its pixels are.

/// Hundredths of a CSS pixel in a millimetre.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct ScreenSize(u16);

impl ScreenSize {
    /// Tablets of 132 pixels to the inch.
    pub(crate) const USUAL: Self = Self(520);
    /// Desk screens of 76 pixels to the inch.
    pub(crate) const LEAST: Self = Self(300);
    /// Phones hold some 6.5; beyond 9 no page would fit.
    pub(crate) const MOST: Self = Self(900);

    pub(crate) fn new(hundredths: i64) -> Option<Self> {
        let bounds = i64::from(Self::LEAST.0)..=i64::from(Self::MOST.0);
        let hundredths = bounds.contains(&hundredths).then_some(hundredths)?;
        u16::try_from(hundredths).ok().map(Self)
    }

    pub(crate) fn hundredths(self) -> i64 {
        i64::from(self.0)
    }

    /// What the cookie and the page's own fields hold.
    pub(crate) fn code(self) -> String {
        self.0.to_string()
    }

    pub(crate) fn from_code(code: &str) -> Option<Self> {
        code.parse().ok().and_then(Self::new)
    }

    /// The size at which `drawn_mm` come out that long, when a line meant to be `drawn_mm` at this
    /// size was measured, in tenths of a millimetre; none where that is no screen's.
    pub(crate) fn measured(self, drawn_mm: i64, tenths: i64) -> Option<Self> {
        let pixels = self.hundredths().checked_mul(drawn_mm)?.checked_mul(10)?;
        let half = tenths.checked_div(2)?;
        Self::new(pixels.checked_add(half)?.checked_div(tenths)?)
    }

    /// So many millimetres in pixels, to a hundredth.
    pub(crate) fn pixels(self, mm: i64) -> String {
        let hundredths = self.hundredths().saturating_mul(mm);
        format!("{}.{:02}", hundredths / 100, hundredths % 100)
    }

    /// The address of its style sheet.
    pub(crate) fn address(self) -> String {
        format!("/static/size-{}.css", self.0)
    }

    pub(crate) fn of_file(name: &str) -> Option<Self> {
        Self::from_code(name.strip_prefix("size-")?.strip_suffix(".css")?)
    }

    /// The same condition as in `app.css`: at a mouse nothing is measured in millimetres.
    pub(crate) fn style(self) -> String {
        let pixels = self.pixels(1);
        format!(
            "@media (pointer: coarse), (any-pointer: coarse) and (max-width: 1279px) {{\n  :root {{ --mm: {pixels}px; }}\n}}\n"
        )
    }
}

#[cfg(test)]
mod tests {
    use super::ScreenSize;

    #[test]
    fn a_measured_line_says_how_large_the_pixels_are() {
        let usual = ScreenSize::USUAL;
        assert_eq!(usual.pixels(40), "208.00");
        assert_eq!(usual.measured(40, 400), Some(usual));
        // 208 pixels measured 38.5 mm: 5.40 to the millimetre.
        assert_eq!(usual.measured(40, 385), ScreenSize::new(540));
        assert_eq!(usual.measured(40, 0), None);
        assert_eq!(usual.measured(40, 4_000), None);
        assert_eq!(usual.measured(40, 100), None);
    }

    #[test]
    fn its_file_is_named_by_it_alone() {
        let size = ScreenSize::new(523).unwrap();
        assert_eq!(size.address(), "/static/size-523.css");
        assert_eq!(ScreenSize::of_file("size-523.css"), Some(size));
        assert!(size.style().contains("--mm: 5.23px"));
        for name in [
            "size-299.css",
            "size-901.css",
            "size-.css",
            "size-5.2.css",
            "size-523",
        ] {
            assert_eq!(ScreenSize::of_file(name), None, "{name}");
        }
    }
}
