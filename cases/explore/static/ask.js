// Asks this machine and nobody else.

export class Refused extends Error {
  constructor(error) { super(error.text || "refused"); this.error = error; }
}

export const page = Math.random().toString(36).slice(2) + Date.now().toString(36);
let sent = 0;
export const nextNumber = () => ++sent;

export async function ask(path, asked) {
  const answer = await fetch(`ask/${path}`, {
    method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify({ page, ...asked }),
  });
  if (answer.status === 409) return null; // a newer request has come
  if (answer.status === 403) throw new Refused({ text: await answer.text() });
  if (!answer.ok) throw new Refused((await answer.json()).error);
  return answer;
}

export const askJson = async (path, asked) => { const answer = await ask(path, asked); return answer && answer.json(); };
