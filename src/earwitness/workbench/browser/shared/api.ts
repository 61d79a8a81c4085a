// One way to speak to the server: JSON there and back, and its one shape of error as an exception with its sentence.
export class Refused extends Error {
  constructor(readonly code: string, text: string, readonly args: Record<string, unknown> = {}) {
    super(text);
  }
}

export async function api<T>(address: string, body?: unknown): Promise<T> {
  const asked: RequestInit = body === undefined ? {} : {
    method: "POST",
    headers: { "Content-Type": "application/json" },
    body: JSON.stringify(body),
  };
  return answer<T>(await fetch(`/api${address}`, asked));
}

export async function answer<T>(response: Response): Promise<T> {
  const told = await response.json().catch(() => null);
  if (response.ok) return told as T;
  const error = told?.error;
  throw new Refused(error?.code ?? "no-answer", error?.text ?? "The server does not answer; nothing was saved.", error?.args);
}
