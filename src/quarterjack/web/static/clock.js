// A clock's page: recordings are copied with a bar that shows how far, and long work is watched until it is done.

const upload = document.getElementById("upload");
if (upload) {
  const says = document.getElementById("upload-says");
  const bar = document.getElementById("upload-done");
  const box = document.getElementById("uploading");
  const send = (files) => new Promise((resolve, reject) => {
    const body = new FormData();
    for (const file of files) body.append("recordings", file, file.name);
    const request = new XMLHttpRequest();
    request.open("POST", upload.action);
    request.setRequestHeader("Accept", "text/plain, application/json");
    request.upload.onprogress = (event) => { if (event.lengthComputable) bar.value = event.loaded / event.total; };
    request.onload = () => {
      if (request.status < 300) return resolve();
      let message = `The computer answered ${request.status}.`;
      try { message = JSON.parse(request.responseText).message; } catch { /* not one of our own answers */ }
      reject(new Error(message));
    };
    request.onerror = () => reject(new Error("The connection broke off; what was copied before is kept."));
    request.send(body);
  });
  const add = async (files) => {
    if (!files.length) return;
    box.hidden = false;
    says.textContent = files.length === 1 ? `Copying ${files[0].name}` : `Copying ${files.length} recordings`;
    try {
      await send(files);
      location.hash = "recordings";
      location.reload();
    } catch (error) {
      box.hidden = true;
      says.textContent = error.message;
    }
  };
  upload.addEventListener("submit", (event) => {
    event.preventDefault();
    add([...upload.elements.recordings.files]);
  });
  for (const kind of ["dragenter", "dragover"]) {
    upload.addEventListener(kind, (event) => { event.preventDefault(); upload.classList.add("over-it"); });
  }
  upload.addEventListener("dragleave", () => upload.classList.remove("over-it"));
  upload.addEventListener("drop", (event) => {
    event.preventDefault();
    upload.classList.remove("over-it");
    add([...event.dataTransfer.files]);
  });
}

const work = document.getElementById("work");
if (work) {
  const doing = document.getElementById("work-doing");
  const done = document.getElementById("work-done");
  const says = document.getElementById("work-says");
  let told = "";
  const look = async () => {
    try {
      const answer = await (await fetch(work.dataset.state, { headers: { Accept: "application/json" } })).json();
      if (answer.state !== "waiting" && answer.state !== "running") return location.reload();
      done.value = answer.fraction;
      doing.textContent = answer.doing;
      if (answer.doing !== told) says.textContent = told = answer.doing;
    } catch { /* the next look may find it */ }
    setTimeout(look, 400);
  };
  look();
}
