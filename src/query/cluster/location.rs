//! The path of a file as the cluster is told it.

use std::path::Path;

use super::percent::encoded;
use crate::domain::problem::{AtFile, Problem, Result};

/// A `file://` address of an absolute path. As an address, not a path, because a server reads `*`, `?` and `[` in paths as
/// patterns; everything that has a meaning in addresses or in SQL text is written in hexadecimal.
pub fn location(file: &Path) -> Result<String> {
    let absolute = std::path::absolute(file).at_file("name in full", file)?;
    let Some(text) = absolute.to_str() else {
        return Err(
            Problem::data("a cluster can only be told paths that are text")
                .file(file)
                .remedy("rename the store's folder"),
        );
    };
    Ok(format!("file://{}", encoded(text, "/")))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_plain_signs_are_left() {
        let told = location(Path::new("/a b/it's [1]/Lärk*.parquet")).unwrap();
        assert_eq!(told, "file:///a%20b/it%27s%20%5B1%5D/L%C3%A4rk%2A.parquet");
        assert!(location(Path::new("x")).unwrap().starts_with("file:///"));
    }
}
