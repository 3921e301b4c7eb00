// A recording or a video goes to the listener as a plain file, with progress, and can be called back.

/** The error's words from an answer in quarterjack's one error shape. */
export async function words(response) {
  try {
    return (await response.json()).message;
  } catch {
    return `quarterjack answered ${response.status}.`;
  }
}

export async function ask(path, options = {}) {
  const response = await fetch(path, { headers: { accept: "application/json", "content-type": "application/json" }, ...options });
  if (!response.ok) throw new Error(await words(response));
  return response.json();
}

/** Send a file; resolves to the listening's document. `on.progress(fraction, words)`; abort through `signal`. */
export function sendFile(file, on, signal) {
  return new Promise((resolve, reject) => {
    const request = new XMLHttpRequest();
    request.open("POST", `/api/listenings?name=${encodeURIComponent(file.name)}`);
    request.setRequestHeader("content-type", "application/octet-stream");
    request.setRequestHeader("accept", "application/json");
    request.responseType = "json";
    request.upload.onprogress = (event) => {
      if (event.lengthComputable) on.progress(event.loaded / event.total, "taking the file in");
    };
    request.onload = () =>
      request.status < 300 ? resolve(request.response) : reject(new Error(request.response?.message ?? `quarterjack answered ${request.status}.`));
    request.onerror = () => reject(new Error("quarterjack does not answer; is it still running?"));
    request.onabort = () => reject(new DOMException("stopped", "AbortError"));
    signal.addEventListener("abort", () => request.abort());
    request.send(file);
  });
}

/** Wait until the listening is done; calls `on.progress` meanwhile. */
export async function waitFor(id, on, signal) {
  for (;;) {
    const document = await ask(`/api/listenings/${id}`, { signal });
    if (document.state !== "reading") return document;
    on.progress(document.progress, document.doing);
    await new Promise((resolve) => setTimeout(resolve, 300));
  }
}
