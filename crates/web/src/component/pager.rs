//! A page of a list that is too long for one, with the ways to those beside it.

use askama::Template;

/// Which part of a list is shown.
#[derive(Clone, Debug, Template)]
#[template(path = "component/pager.html")]
pub(crate) struct Pager {
    /// Rows before this page, and rows on one.
    pub(crate) skip: usize,
    pub(crate) per: usize,
    /// "Page 2 of 5"; empty when there is one.
    pub(crate) page_of: String,
    /// What is listed, for those who hear the page.
    what: &'static str,
    previous: Option<String>,
    next: Option<String>,
}

impl Pager {
    /// Page `asked`, counted from 1, of so many rows, `per` on each; `address` leads to a page.
    pub(crate) fn over(
        (what, total): (&'static str, usize),
        (asked, per): (usize, usize),
        address: impl Fn(usize) -> String,
    ) -> Self {
        let pages = total.div_ceil(per.max(1)).max(1);
        let at = asked.clamp(1, pages);
        Self {
            skip: at.saturating_sub(1).saturating_mul(per),
            per,
            page_of: if pages > 1 {
                format!("Page {at} of {pages}")
            } else {
                String::new()
            },
            what,
            previous: (at > 1).then(|| address(at.saturating_sub(1))),
            next: (at < pages).then(|| address(at.saturating_add(1))),
        }
    }

    /// The rows of this page.
    pub(crate) fn take<T>(&self, rows: impl Iterator<Item = T>) -> Vec<T> {
        rows.skip(self.skip).take(self.per).collect()
    }
}

/// The page an address asks for, as it was typed into it.
pub(crate) fn page_asked(typed: &str) -> usize {
    typed.trim().parse().unwrap_or(1)
}

#[cfg(test)]
mod tests {
    use super::{Pager, page_asked};

    #[test]
    fn every_row_stands_on_one_page_and_no_page_is_beyond_the_last() {
        for total in [0_usize, 1, 49, 50, 51, 100, 101, 1_234] {
            let mut seen = Vec::new();
            for asked in 1..=total.div_ceil(50).max(1) {
                let pager = Pager::over(("rows", total), (asked, 50), |page| format!("/{page}"));
                seen.extend(pager.take(0..total));
                assert_eq!(pager.next.is_some(), asked * 50 < total, "{total} {asked}");
                assert_eq!(
                    pager.previous.is_some(),
                    asked > 1 && total > 50,
                    "{total} {asked}"
                );
            }
            assert!(seen.into_iter().eq(0..total), "{total}");
        }
        let beyond = Pager::over(("rows", 120), (usize::MAX, 50), |page| format!("/{page}"));
        assert_eq!((beyond.skip, beyond.page_of.as_str()), (100, "Page 3 of 3"));
        assert_eq!(beyond.take(0..120).len(), 20);
        assert_eq!(
            [page_asked(""), page_asked("x"), page_asked(" 7")],
            [1, 1, 7]
        );
    }
}
