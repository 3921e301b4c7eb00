// The computer's own microphone, as raw as the browser gives it, sent to the listener in numbered batches.

const PROCESSING = {
  echoCancellation: "echo cancelling",
  noiseSuppression: "noise suppression",
  autoGainControl: "automatic gain",
};
const MOST_WAITING_BYTES = 8_000_000; // about 40 s that the listener has not taken yet: then batches are dropped

/** What the browser still does to the sound although it was asked not to, in words. */
export function processingLeftOn(settings) {
  return Object.keys(PROCESSING)
    .filter((name) => settings[name] === true)
    .map((name) => PROCESSING[name]);
}

/** Why the microphone could not be opened, in words that say what to do. */
export function whyNoMicrophone(error) {
  if (!navigator.mediaDevices) {
    return "The browser gives the microphone only to pages at this computer's own address: open http://127.0.0.1 or localhost.";
  }
  return (
    {
      NotAllowedError: "The browser was not allowed to use the microphone. Allow it for this page (at the address line), then press Listen again.",
      NotFoundError: "No microphone was found. Plug one in, or record the clock with a phone and choose the file below.",
      NotReadableError: "Another program holds the microphone. Close it there, then press Listen again.",
    }[error.name] ?? `The microphone could not be opened: ${error.message}`
  );
}

/** Keep the screen, and with it the laptop, awake until the next quarter; where that cannot be had, go on without. */
async function stayAwake() {
  try {
    return await navigator.wakeLock?.request("screen");
  } catch {
    return undefined;
  }
}

/** One batch as it goes over the line: sequence number, count, number of the first sample, samples. */
function packed(sequence, first, samples) {
  const bytes = new ArrayBuffer(16 + samples.byteLength);
  const head = new DataView(bytes);
  head.setUint32(0, sequence, true);
  head.setUint32(4, samples.length, true);
  head.setFloat64(8, first, true);
  new Float32Array(bytes, 16).set(samples);
  return bytes;
}

function peak(samples) {
  let most = 0;
  for (const value of samples) most = Math.max(most, Math.abs(value));
  return most;
}

/**
 * Open the microphone and the line to the listener.
 * `on.answer(document)`, `on.level(peak, seconds)` and `on.closed(reason)` are called as things happen.
 */
export async function openMicrophone(on) {
  const stream = await navigator.mediaDevices.getUserMedia({
    audio: { echoCancellation: false, noiseSuppression: false, autoGainControl: false, channelCount: 1 },
  });
  const track = stream.getAudioTracks()[0];
  const settings = track.getSettings();
  const context = new AudioContext({ latencyHint: "playback" });
  const awake = stayAwake();
  let line;
  let stopping = false;
  const shut = () => {
    track.stop();
    awake.then((lock) => lock?.release());
    if (context.state !== "closed") context.close();
  };
  try {
    await context.audioWorklet.addModule("/static/capture-worklet.js");
    await context.resume();
    line = new WebSocket(`ws://${location.host}/api/listen`);
    line.binaryType = "arraybuffer";
    await new Promise((opened, failed) => {
      line.onopen = opened;
      line.onerror = () => failed(new Error("quarterjack does not answer; is it still running?"));
    });
  } catch (error) {
    shut();
    throw error;
  }
  line.send(
    JSON.stringify({
      sample_rate_hz: context.sampleRate,
      processing: processingLeftOn(settings),
      microphone: track.label,
    }),
  );
  line.onmessage = (event) => on.answer(JSON.parse(event.data));
  line.onclose = (event) => {
    shut();
    on.closed(stopping ? "" : event.reason || "The line to quarterjack was cut; what was heard until then is kept for now.");
  };

  const source = context.createMediaStreamSource(stream);
  const capture = new AudioWorkletNode(context, "capture", { numberOfOutputs: 0, channelCount: 1, channelCountMode: "explicit" });
  let sequence = 0;
  let start = null;
  capture.port.onmessage = ({ data }) => {
    start = data.start;
    on.level(peak(data.samples), data.first / context.sampleRate);
    if (line.readyState === WebSocket.OPEN && line.bufferedAmount < MOST_WAITING_BYTES) {
      line.send(packed(sequence, data.first, data.samples));
    }
    sequence += 1;
  };
  source.connect(capture);
  track.onended = () => line.close();

  const latency = settings.latency ?? 0.02;
  return {
    settings,
    /** Tell the listener that the bob hung on the right when `event` happened. */
    press(event) {
      if (start === null || line.readyState !== WebSocket.OPEN) return;
      const since = Math.max(0, performance.now() - event.timeStamp) / 1000;
      // The sound of that moment comes out of the converter one input latency later.
      const seconds = context.currentTime - since + latency - start / context.sampleRate;
      line.send(JSON.stringify({ press_s: seconds }));
    },
    forgetPresses() {
      if (line.readyState === WebSocket.OPEN) line.send(JSON.stringify({ forget_presses: true }));
    },
    stop() {
      stopping = true;
      source.disconnect();
      track.stop();
      if (line.readyState === WebSocket.OPEN) line.send(JSON.stringify({ stop: true }));
    },
  };
}
