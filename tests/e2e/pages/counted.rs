//! Counts and sums of a page, and the lists behind them.

use super::browser::unescaped;
use super::shop::{As, Shop};

/// A figure that leads to a list.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Counted {
    pub(super) shown: String,
    pub(super) address: String,
    /// So many rows its list has.
    pub(super) rows: Option<usize>,
    /// So much the values of its rows come to.
    pub(super) sum: Option<i64>,
}

/// A list behind a figure, over all its pages.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Listed {
    pub(super) rows: usize,
    pub(super) sum: i64,
}

/// The main part of a page.
pub(super) fn main(page: &str) -> &str {
    let main = page.split("<main").nth(1).unwrap();
    main.split("</main>").next().unwrap()
}

fn attribute<'a>(tag: &'a str, name: &str) -> Option<&'a str> {
    let rest = tag.split(&format!(" {name}=\"")).nth(1)?;
    rest.split('"').next()
}

/// All of them in a piece of a page.
pub(super) fn counted(markup: &str) -> Vec<Counted> {
    let links = markup.split("<a class=\"counted\"").skip(1);
    links
        .map(|rest| {
            let (tag, words) = rest.split_once('>').unwrap();
            let words = words.split("</a>").next().unwrap();
            Counted {
                shown: super::form::text(words),
                address: unescaped(attribute(tag, "href").unwrap()),
                rows: attribute(tag, "data-rows").map(|rows| rows.parse().unwrap()),
                sum: attribute(tag, "data-sum").map(|sum| sum.parse().unwrap()),
            }
        })
        .collect()
}

/// The list an address leads to: the element its fragment names, else the one marked as a list. None where
/// there is none.
pub(super) fn listed(shop: &Shop, who: As, address: &str) -> Option<Listed> {
    let (first, fragment) = match address.split_once('#') {
        Some((first, fragment)) => (first, Some(fragment)),
        None => (address, None),
    };
    let mut next = Some(first.to_owned());
    let mut found = Listed { rows: 0, sum: 0 };
    while let Some(at) = next {
        let page = shop.get(who, &at);
        assert_eq!(page.status, 200, "{at} as {who:?}");
        let main = main(&page.body);
        let mark = fragment.map_or_else(|| " data-list".to_owned(), |id| format!(" id=\"{id}\""));
        let (before, rest) = main.split_once(&mark)?;
        let (end, row) = match before
            .rsplit('<')
            .next()
            .unwrap()
            .split(' ')
            .next()
            .unwrap()
        {
            "table" => ("</table>", "<tr"),
            "ul" | "ol" => ("</ul>", "<li"),
            // Nothing is there, and a sentence says so.
            "p" | "div" => return Some(found),
            other => panic!("{at}: <{other}> is no list"),
        };
        let (list, after) = rest.split_once(end).unwrap();
        let body = list.split_once("<tbody>").map_or(list, |(_, body)| body);
        for row in body.split(row).skip(1) {
            found.rows += 1;
            let tag = row.split('>').next().unwrap();
            found.sum += attribute(tag, "data-value").map_or(0, |value| value.parse().unwrap());
        }
        let pager = after.trim_start();
        next = pager
            .starts_with("<nav aria-label=\"Pages of")
            .then(|| {
                let nav = pager.split("</nav>").next()?;
                let link = nav
                    .split("<a ")
                    .find(|link| link.contains("rel=\"next\""))?;
                let address = unescaped(attribute(&format!(" {link}"), "href")?);
                Some(address.split('#').next()?.to_owned())
            })
            .flatten();
    }
    Some(found)
}

/// That a figure says what its list comes to.
pub(super) fn check(shop: &Shop, who: As, (page, figure): (&str, &Counted)) {
    let path = page.split(['?', '#']).next().unwrap();
    let address = match figure.address.strip_prefix('#') {
        Some(id) => format!("{path}#{id}"),
        None => figure.address.clone(),
    };
    let of = format!("{page} as {who:?}: {figure:?}");
    if figure.rows.is_none() && figure.sum.is_none() {
        let answer = shop.get(who, address.split('#').next().unwrap());
        assert_eq!(answer.status, 200, "{of}");
        return;
    }
    let list = listed(shop, who, &address).unwrap_or_else(|| panic!("no list: {of}"));
    if let Some(rows) = figure.rows {
        assert_eq!(list.rows, rows, "{of}");
        // The words of a status may hold a number of their own before it.
        let number = figure.shown.split_whitespace().last().unwrap();
        assert_eq!(number.replace(',', ""), rows.to_string(), "{of}");
    }
    if let Some(sum) = figure.sum {
        assert_eq!(list.sum, sum, "{of}");
    }
}
