// What the page asks the server for. Every function rejects with a sentence that can be shown.

async function answered(response) {
  const data = await response.json().catch(() => ({ fault: `The desk answered ${response.status}.` }));
  if (!response.ok) throw new Error(data.fault || `The desk answered ${response.status}.`);
  return data;
}

async function reach(address, options) {
  try {
    return await fetch(address, { cache: "no-store", ...options });
  } catch {
    throw new Error("The desk is closed or was ended; start it again and open its new address. What was settled is kept.");
  }
}

export async function ask(address, query = {}) {
  return answered(await reach(`${address}?${new URLSearchParams(query)}`));
}

export async function tell(address, data = {}) {
  const headers = { "Content-Type": "application/json" };
  return answered(await reach(address, { method: "POST", headers, body: JSON.stringify(data) }));
}
