// Copying text, also where the browser keeps its clipboard from pages that come from disk.

/** Copies a text; resolves to whether it worked. */
export async function copyText(text) {
  try {
    await navigator.clipboard.writeText(text);
    return true;
  } catch {
    const field = document.createElement("textarea");
    field.value = text;
    field.className = "unseen";
    const before = document.activeElement;
    document.body.append(field);
    field.select();
    const done = document.execCommand("copy");
    field.remove();
    before?.focus?.();
    return done;
  }
}
