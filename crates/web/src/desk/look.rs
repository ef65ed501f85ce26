//! How the pages look on this screen: as the device wishes, or as somebody chose.

/// A look, kept in a cookie of the device.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) enum Look {
    /// As the device wishes.
    #[default]
    Auto,
    Day,
    Night,
    /// Black on white with heavy lines, for glare.
    Bright,
}

impl Look {
    pub(crate) const ALL: [Self; 4] = [Self::Auto, Self::Day, Self::Night, Self::Bright];

    /// What the cookie and `data-look` hold.
    pub(crate) const fn code(self) -> &'static str {
        match self {
            Self::Auto => "auto",
            Self::Day => "day",
            Self::Night => "night",
            Self::Bright => "bright",
        }
    }

    pub(crate) const fn word(self) -> &'static str {
        match self {
            Self::Auto => "Auto",
            Self::Day => "Day",
            Self::Night => "Night",
            Self::Bright => "Bright light",
        }
    }

    /// An unknown code means no choice.
    pub(crate) fn from_code(code: &str) -> Self {
        let known = Self::ALL.into_iter().find(|look| look.code() == code);
        known.unwrap_or_default()
    }
}
