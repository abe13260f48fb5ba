// Elements made without any markup as text, so that nothing that was said can become markup.

export function make(tag, given = {}, ...inside) {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(given)) {
    if (name === "on") made.addEventListener("click", value);
    else if (name === "text") made.textContent = value;
    else if (name === "class") made.className = value;
    else if (value !== null && value !== undefined && value !== false) made.setAttribute(name, value === true ? "" : value);
  }
  made.append(...inside.filter((one) => one !== null && one !== undefined));
  return made;
}

export function shape(tag, given = {}, ...inside) {
  const made = document.createElementNS("http://www.w3.org/2000/svg", tag);
  for (const [name, value] of Object.entries(given)) made.setAttribute(name, value);
  made.append(...inside);
  return made;
}

export const at = (id) => document.getElementById(id);

export function button(label, on, kind = "") {
  return make("button", { type: "button", text: label, on, class: kind || null });
}

export function show(place, ...inside) {
  place.replaceChildren(...inside.filter((one) => one !== null && one !== undefined));
  place.hidden = place.childNodes.length === 0;
}
