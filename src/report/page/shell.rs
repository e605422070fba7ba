//! What every page has: head, style, title, stamp, links, footer.

use maud::{DOCTYPE, Markup, PreEscaped, html};

/// The frame of a page around its body.
pub struct Shell<'a> {
    /// Page title.
    pub title: &'a str,
    /// A stamp for data that are not real, such as `invented data`.
    pub stamp: Option<&'a str>,
    /// Links to the other pages: file and words.
    pub links: &'a [(String, String)],
}

/// The whole page.
pub fn page(shell: &Shell<'_>, body: Markup) -> String {
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (shell.title) " · Boretally" }
                style { (PreEscaped(include_str!("style.css"))) }
            }
            body {
                header {
                    @if let Some(stamp) = shell.stamp { p.stamp { (stamp) } }
                    h1 { (shell.title) }
                    nav { @for (file, words) in shell.links { a href=(file) { (words) } } }
                }
                main { (body) }
                footer {
                    p { "Made by Boretally " (env!("CARGO_PKG_VERSION")) " from closed cases. Statistics suggest an order of tests; \
                        they do not diagnose the vehicle in the bay." }
                }
            }
        }
    }
    .into_string()
}
