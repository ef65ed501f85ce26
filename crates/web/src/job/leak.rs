//! The leak scale, as a form asks for it.

use domain::job::LeakClass;

/// Code and words of each class.
pub(super) fn choices() -> [(&'static str, &'static str); 4] {
    [
        ("0", "0, dry"),
        ("1", "1, wet"),
        ("2", "2, drops form"),
        ("3", "3, drops fall"),
    ]
}

/// Each code with what it stands for.
pub(super) fn classes() -> Vec<(&'static str, LeakClass)> {
    let class = |(code, _): (&'static str, &str)| {
        let number = code.parse::<u8>().ok()?;
        Some((code, LeakClass::try_from(number).ok()?))
    };
    choices().into_iter().filter_map(class).collect()
}
