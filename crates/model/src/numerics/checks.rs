//! The numeric checks in the repository's `checks` folder, for tests.

use serde_json::Value;

/// Every readable JSON file of the checks folder whose name starts with `prefix`.
pub(crate) fn files(prefix: &str) -> Vec<Value> {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/../../checks");
    let mut paths: Vec<_> = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| {
            let name = path.file_name().unwrap().to_string_lossy();
            name.starts_with(prefix) && name.ends_with(".json")
        })
        .collect();
    paths.sort();
    paths
        .iter()
        .map(|path| serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap())
        .collect()
}

/// The array under a chain of keys; empty when the file has none.
pub(crate) fn rows<'a>(file: &'a Value, keys: &[&str]) -> &'a [Value] {
    keys.iter()
        .try_fold(file, |value, key| value.get(key))
        .and_then(|v| v.as_array())
        .map_or(&[], |v| v)
}
