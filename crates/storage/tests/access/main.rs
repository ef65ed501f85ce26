//! Who may sign on, on real files, opened the way the server opens them.
#![expect(
    clippy::unwrap_used,
    reason = "helpers of tests stop the test where something is wrong"
)]

mod event;
mod file;
mod prove;
mod scene;
mod secret;
mod session;
mod tablet;
