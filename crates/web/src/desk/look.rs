//! How the pages look on this screen: as the device wishes, or as somebody chose.

use super::ScreenSize;

/// What the cookies of a device say.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) struct Look {
    pub(crate) shade: Shade,
    /// None: as most tablets are.
    pub(crate) size: Option<ScreenSize>,
}

impl Look {
    /// What `data-look` holds.
    pub(crate) const fn code(self) -> &'static str {
        self.shade.code()
    }

    pub(crate) const fn word(self) -> &'static str {
        self.shade.word()
    }
}

/// Light or dark, kept in a cookie of the device.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) enum Shade {
    /// As the device wishes.
    #[default]
    Auto,
    Day,
    Night,
    /// Black on white with heavy lines, for glare.
    Bright,
}

impl Shade {
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
        let known = Self::ALL.into_iter().find(|shade| shade.code() == code);
        known.unwrap_or_default()
    }
}
