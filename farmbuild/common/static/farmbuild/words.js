// Sentences of a script in the language of the page, which brings them; those that it does not bring stay as they are.
const brought = JSON.parse(document.querySelector("[data-words]")?.dataset.words || "{}");

// `text` with a %(name)s for each of `values`.
export function words(text, values = {}) {
  return (brought[text] ?? text).replace(/%\((\w+)\)s/g, (_, name) => values[name]);
}

// As `one` where `count` is 1, else as `many`.
export function countWords(one, many, count, values = {}) {
  return words(count === 1 ? one : many, { count, ...values });
}
