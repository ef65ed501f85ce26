//! What a browser does for a page: keeps cookies, says where a form comes from, encodes it.

use std::{cell::RefCell, collections::BTreeMap, net::SocketAddr};

use crate::client::{self, Answer};

/// One browser with its cookies.
#[derive(Debug)]
pub(crate) struct Browser {
    address: SocketAddr,
    cookies: RefCell<BTreeMap<String, String>>,
}

impl Browser {
    pub(crate) fn new(address: SocketAddr) -> Self {
        Self {
            address,
            cookies: RefCell::default(),
        }
    }

    pub(crate) fn get(&self, path: &str) -> Answer {
        self.send(("GET", path), &[], "")
    }

    /// A form, as its own page sends it.
    pub(crate) fn post(&self, path: &str, fields: &[(&str, &str)]) -> Answer {
        self.post_from(&format!("http://{}", self.address), path, fields)
    }

    /// The same from a page of another origin.
    pub(crate) fn post_from(&self, origin: &str, path: &str, fields: &[(&str, &str)]) -> Answer {
        let headers = [
            ("Origin", origin),
            ("Content-Type", "application/x-www-form-urlencoded"),
        ];
        self.send(("POST", path), &headers, &encoded(fields))
    }

    pub(crate) fn send(
        &self,
        (method, path): (&str, &str),
        headers: &[(&str, &str)],
        body: &str,
    ) -> Answer {
        let request = self.request((method, path), headers, body.as_bytes());
        self.send_as_it_is(&request)
    }

    /// The bytes of a request with this browser's cookies and the length of its body.
    pub(crate) fn request(
        &self,
        (method, path): (&str, &str),
        headers: &[(&str, &str)],
        body: &[u8],
    ) -> Vec<u8> {
        let host = self.address.to_string();
        let cookies = self.cookie_header();
        let mut all = vec![("Host", host.as_str())];
        if headers.iter().all(|(name, _)| *name != "Accept") {
            all.push(("Accept", "text/html"));
        }
        if !cookies.is_empty() {
            all.push(("Cookie", &cookies));
        }
        all.extend(headers);
        let length = body.len().to_string();
        if !body.is_empty() {
            all.push(("Content-Length", &length));
        }
        let mut request = client::request(method, path, &all, "");
        request.extend(body);
        request
    }

    pub(crate) fn send_as_it_is(&self, request: &[u8]) -> Answer {
        let answer = client::send_raw(self.address, request);
        for cookie in answer.all("set-cookie") {
            self.take(cookie);
        }
        answer
    }

    fn take(&self, cookie: &str) {
        let (pair, terms) = cookie.split_once(';').unwrap_or((cookie, ""));
        let (name, value) = pair.split_once('=').unwrap();
        let mut cookies = self.cookies.borrow_mut();
        if terms.contains("Max-Age=0") {
            cookies.remove(name);
        } else {
            cookies.insert(name.to_owned(), value.to_owned());
        }
    }

    fn cookie_header(&self) -> String {
        let cookies = self.cookies.borrow();
        let pairs: Vec<String> = cookies
            .iter()
            .map(|(name, value)| format!("{name}={value}"))
            .collect();
        pairs.join("; ")
    }

    /// The value of a cookie it keeps.
    pub(crate) fn cookie(&self, name: &str) -> Option<String> {
        self.cookies.borrow().get(name).cloned()
    }

    /// Puts a cookie in, as somebody else with access to the browser could.
    pub(crate) fn set_cookie(&self, name: &str, value: &str) {
        self.cookies
            .borrow_mut()
            .insert(name.to_owned(), value.to_owned());
    }

    pub(crate) fn drop_cookie(&self, name: &str) {
        self.cookies.borrow_mut().remove(name);
    }

    /// Signs on with a short name and a password.
    pub(crate) fn sign_on_by_password(&self, handle: &str, password: &str) -> Answer {
        self.post("/sign-on", &[("handle", handle), ("password", password)])
    }

    /// Signs on at a tablet with a PIN, choosing the tile of a short name.
    pub(crate) fn sign_on_by_pin(&self, handle: &str, pin: &str) -> Answer {
        let page = self.get("/sign-on?all=yes");
        let person = tile(&page.body, handle).unwrap();
        self.post("/sign-on", &[("person", &person), ("pin", pin)])
    }

    /// Opens the link that makes it a tablet of a shop.
    pub(crate) fn enrol(&self, link: &str) -> Answer {
        let code = link.rsplit('=').next().unwrap();
        self.post("/tablets/enrol", &[("code", code)])
    }
}

/// The value behind the tile of a short name.
pub(crate) fn tile(html: &str, handle: &str) -> Option<String> {
    let before = html.split(&format!("<strong>{handle}</strong>")).next()?;
    if before.len() == html.len() {
        return None;
    }
    let value = before.rsplit("name=\"person\" value=\"").next()?;
    value.split('"').next().map(str::to_owned)
}

/// The value of a hidden field, as the browser would send it.
pub(crate) fn hidden(html: &str, name: &str) -> Option<String> {
    let tag = html
        .split(&format!("<input type=\"hidden\" name=\"{name}\" value=\""))
        .nth(1)?;
    tag.split('"').next().map(unescaped)
}

/// Text as a browser reads it, each of the signs that a page writes otherwise read once.
pub(crate) fn unescaped(text: &str) -> String {
    const WRITTEN: [(&str, char); 9] = [
        ("&#34;", '"'),
        ("&#39;", '\''),
        ("&#60;", '<'),
        ("&#62;", '>'),
        ("&lt;", '<'),
        ("&gt;", '>'),
        ("&quot;", '"'),
        ("&#38;", '&'),
        ("&amp;", '&'),
    ];
    let mut read = String::with_capacity(text.len());
    let mut rest = text;
    while let Some(at) = rest.find('&') {
        read.push_str(&rest[..at]);
        rest = &rest[at..];
        let known = WRITTEN
            .iter()
            .find(|(written, _)| rest.starts_with(written));
        let (written, sign) = known.copied().unwrap_or(("&", '&'));
        read.push(sign);
        rest = &rest[written.len()..];
    }
    read + rest
}

/// A form's fields as they travel.
pub(crate) fn encoded(fields: &[(&str, &str)]) -> String {
    let pairs: Vec<String> = fields
        .iter()
        .map(|(name, value)| format!("{}={}", percent(name), percent(value)))
        .collect();
    pairs.join("&")
}

fn percent(text: &str) -> String {
    text.bytes()
        .map(|byte| match byte {
            b'a'..=b'z' | b'A'..=b'Z' | b'0'..=b'9' | b'-' | b'_' | b'.' | b'*' => {
                char::from(byte).to_string()
            }
            b' ' => "+".to_owned(),
            other => format!("%{other:02X}"),
        })
        .collect()
}
