//! GET /: what this server is.

use axum::{extract::State, response::Html};

use crate::{AppState, page};

pub(crate) async fn show(State(state): State<AppState>) -> Html<String> {
    let mark = page::marked(state.mark);
    let main = format!(
        "{mark}<p>This server keeps a shop's record of coolant: what came out of each truck or bus, what went in, \
         what it tested at, and what became of the rest.</p>\n\
         <p>The pages for jobs, vessels, units and reports follow. \
         <a href=\"/healthz\">See whether the server is up</a>.</p>\n\
         <p>Local codes, the maker's instructions and licensed practice come first.</p>"
    );
    page::page("Coolant Ledger", &main)
}
