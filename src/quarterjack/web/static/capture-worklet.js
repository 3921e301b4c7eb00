// Gathers the microphone's sound into batches on the audio thread, each with the number of its first sample.

const BATCH_S = 0.125;

class Capture extends AudioWorkletProcessor {
  constructor() {
    super();
    this.size = Math.round((sampleRate * BATCH_S) / 128) * 128;
    this.filled = 0;
    this.start = null;
    this.batch = new Float32Array(this.size);
    this.first = 0;
  }

  process(inputs) {
    const channel = inputs[0][0];
    if (!channel) return true; // no input yet: counting starts with the first sample that arrives
    if (this.start === null) this.start = currentFrame;
    const at = currentFrame - this.start;
    // Frames that the system dropped show as a jump; what was gathered goes out, and the numbering keeps the hole.
    if (this.filled && at !== this.first + this.filled) this.send();
    if (!this.filled) this.first = at;
    this.batch.set(channel, this.filled);
    this.filled += channel.length;
    if (this.filled >= this.size) this.send();
    return true;
  }

  send() {
    const samples = this.batch.slice(0, this.filled);
    this.port.postMessage({ first: this.first, samples, start: this.start }, [samples.buffer]);
    this.filled = 0;
  }
}

registerProcessor("capture", Capture);
