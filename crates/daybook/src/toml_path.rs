//! Sets, takes away and adds values of a TOML document by path, leaving comments and layout alone.

use crate::edit::PathStep::{self, Item as Nth, Key};
use toml_edit::{Array, ArrayOfTables, DocumentMut, InlineTable, Item, Table, TableLike, Value};

/// Text of what stood there; the outer `None` when the path cannot be walked.
pub(crate) fn set(document: &mut DocumentMut, path: &[PathStep], value: Value) -> Option<Option<String>> {
    let (Key(first), rest) = path.split_first()? else { return None };
    let root = document.as_table_mut();
    if !rest.is_empty() && !root.contains_key(first) && matches!(rest[0], Key(_)) {
        root.insert(first, Item::Table(Table::new()));
    }
    set_in_table(root, path, value)
}

fn set_in_table(table: &mut dyn TableLike, path: &[PathStep], value: Value) -> Option<Option<String>> {
    let (Key(key), rest) = path.split_first()? else { return None };
    if table.get(key).is_none_or(Item::is_none) {
        let made = match rest.first() {
            None => {
                table.insert(key, Item::Value(value));
                return Some(None);
            }
            Some(Key(_)) => Value::InlineTable(InlineTable::new()),
            Some(Nth(_)) => Value::Array(Array::new()),
        };
        table.insert(key, Item::Value(made));
    }
    set_in_item(table.get_mut(key)?, rest, value)
}

fn set_in_item(item: &mut Item, path: &[PathStep], value: Value) -> Option<Option<String>> {
    match (item, path) {
        (Item::Value(old), _) => set_in_value(old, path, value),
        (Item::Table(table), [_, ..]) => set_in_table(table, path, value),
        (Item::ArrayOfTables(tables), [Nth(index), rest @ ..]) if !rest.is_empty() => {
            set_in_table(tables.get_mut(*index)?, rest, value)
        }
        _ => None,
    }
}

fn set_in_value(old: &mut Value, path: &[PathStep], mut value: Value) -> Option<Option<String>> {
    match (old, path) {
        (old, []) => {
            let text = old.to_string().trim().to_owned();
            *value.decor_mut() = old.decor().clone();
            *old = value;
            Some(Some(text))
        }
        (Value::InlineTable(table), [Key(_), ..]) => set_in_table(table, path, value),
        (Value::Array(items), [Nth(index)]) if *index == items.len() => {
            items.push(value);
            Some(None)
        }
        (Value::Array(items), [Nth(index), rest @ ..]) => set_in_value(items.get_mut(*index)?, rest, value),
        _ => None,
    }
}

/// Text of what was taken away; `None` when there was nothing.
pub(crate) fn remove(document: &mut DocumentMut, path: &[PathStep]) -> Option<String> {
    remove_in_table(document.as_table_mut(), path)
}

fn remove_in_table(table: &mut dyn TableLike, path: &[PathStep]) -> Option<String> {
    match path {
        [Key(key)] => table.remove(key).map(|item| text_of(&item)),
        [Key(key), rest @ ..] => match table.get_mut(key)? {
            Item::Table(inner) => remove_in_table(inner, rest),
            Item::Value(inner) => remove_in_value(inner, rest),
            Item::ArrayOfTables(tables) => match rest {
                [Nth(index)] if *index < tables.len() => {
                    let text = lines_of(tables.get(*index)?);
                    tables.remove(*index);
                    Some(text)
                }
                [Nth(index), inner @ ..] => remove_in_table(tables.get_mut(*index)?, inner),
                _ => None,
            },
            Item::None => None,
        },
        _ => None,
    }
}

fn remove_in_value(value: &mut Value, path: &[PathStep]) -> Option<String> {
    match (value, path) {
        (Value::InlineTable(table), _) => remove_in_table(table, path),
        (Value::Array(items), [Nth(index)]) if *index < items.len() => {
            Some(items.remove(*index).to_string().trim().to_owned())
        }
        (Value::Array(items), [Nth(index), rest @ ..]) => remove_in_value(items.get_mut(*index)?, rest),
        _ => None,
    }
}

/// Text of the new table's lines; `None` when `table` is something else than a list of tables.
pub(crate) fn append(document: &mut DocumentMut, table: &str, values: &[(String, Value)]) -> Option<String> {
    let root = document.as_table_mut();
    let is_new = !root.contains_key(table);
    let list = root.entry(table).or_insert(Item::ArrayOfTables(ArrayOfTables::new()));
    let tables = list.as_array_of_tables_mut()?;
    let mut made = Table::new();
    for (key, value) in values {
        made.insert(key, Item::Value(value.clone()));
    }
    let text = lines_of(&made);
    made.decor_mut().set_prefix(if is_new || !tables.is_empty() { "\n" } else { "" });
    tables.push(made);
    Some(text)
}

/// The `id` of the table at `path`.
pub(crate) fn id_at(document: &DocumentMut, path: &[PathStep]) -> Option<String> {
    let [Key(table), Nth(index)] = path else { return None };
    let item = document.get(table)?.as_array_of_tables()?.get(*index)?;
    item.get("id")?.as_str().map(str::to_owned)
}

fn text_of(item: &Item) -> String {
    match item {
        Item::Table(table) => lines_of(table),
        Item::ArrayOfTables(tables) => tables.iter().map(lines_of).collect::<Vec<_>>().join("; "),
        other => other.to_string().trim().to_owned(),
    }
}

fn lines_of(table: &Table) -> String {
    let line = |(key, item): (&str, &Item)| format!("{key} = {}", text_of(item));
    table.iter().map(line).collect::<Vec<_>>().join(", ")
}
