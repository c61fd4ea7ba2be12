"""Write the onset model anew, so that it does the same sums in a third of the time.

Needs the package ``onnx`` and the model as it was published, ``nmp.onnx`` in the wheel
``basic-pitch`` 0.4.0; the package itself needs neither. Run from the root of the repository::

    python tools/build_onset_model.py PATH/TO/nmp.onnx

Writes ``src/changewright/ear/models/onsets.onnx``, and what the published model answers to a known
sound, for the tests.

No weight is changed. A convolution costs a processor as much for one output channel as for
sixteen, and most of this model's have one or eight; so each is *folded*: outputs that lie beside
each other become channels of one output, from a kernel that holds the same weights once for each
place. The picture lies with frequency down and time across, the spectrum's several scalings are
one, and of each pair of convolutions for real and imaginary part one is left. The picture of
partials, which is no output here, is not given out.
"""

import argparse
from pathlib import Path
from typing import Any

import numpy as np
import onnx
from numpy.typing import NDArray
from onnx import TensorProto, helper, numpy_helper

__all__ = ["build"]

Weights = NDArray[np.float64]
MODEL = Path("src/changewright/ear/models/onsets.onnx")
ANSWERS = Path("tests/unit/ear/onset_answers.npz")
SAMPLES, FRAMES, SPECTRUM, BINS, KEYS = 43_844, 172, 309, 264, 88
OCTAVES, TAPS = 9, 256
PARTIALS = (-36, 0, 36, 57, 72, 84, 93, 101)
"""Where the half, the whole, and twice to seven times a frequency lie, in bins of a third of a
semitone."""


def folded(kernel: Weights, down: int, across: int, step: tuple[int, int] = (1, 1)) -> Weights:
    """The kernel that gives ``down`` times ``across`` neighbouring outputs at once, as channels
    (down, across, old channel). ``step`` is the stride of the old kernel; that of the new one is
    so many times larger."""
    out, given, height, width = kernel.shape
    new = np.zeros(
        (down, across, out, given, height + (down - 1) * step[0], width + (across - 1) * step[1])
    )
    for p in range(down):
        for q in range(across):
            rows = slice(p * step[0], p * step[0] + height)
            columns = slice(q * step[1], q * step[1] + width)
            new[p, q, :, :, rows, columns] = kernel
    return new.reshape(down * across * out, given, *new.shape[-2:])


class _Net:
    """A graph as it grows; every call gives the name of what comes out."""

    def __init__(self) -> None:
        self.nodes: list[onnx.NodeProto] = []
        self.constants: dict[tuple[str, tuple[int, ...], bytes], onnx.TensorProto] = {}

    def floats(self, value: object) -> str:
        return self._constant(np.ascontiguousarray(value, dtype=np.float32))

    def whole(self, *value: int) -> str:
        return self._constant(np.array(value, dtype=np.int64))

    def _constant(self, value: NDArray[Any]) -> str:
        key = (str(value.dtype), value.shape, value.tobytes())
        if key not in self.constants:
            self.constants[key] = numpy_helper.from_array(value, f"c{len(self.constants)}")
        return str(self.constants[key].name)

    def node(self, kind: str, *given: str, out: str = "", **how: object) -> str:
        name = out or f"n{len(self.nodes)}"
        self.nodes.append(helper.make_node(kind, list(given), [name], **how))
        return name

    def conv(
        self,
        given: str,
        kernel: Weights,
        bias: Weights | None,
        strides: tuple[int, int],
        pads: tuple[int, int, int, int],
    ) -> str:
        """``pads`` are above, left, below, right."""
        more = [] if bias is None else [self.floats(bias)]
        return self.node(
            "Conv", given, self.floats(kernel), *more, strides=list(strides), pads=list(pads)
        )

    def cut(self, given: str, first: int, last: int, axis: int) -> str:
        return self.node("Slice", given, self.whole(first), self.whole(last), self.whole(axis))


class _Published:
    """The weights of the model as it was published, found by their shapes and names."""

    def __init__(self, path: Path) -> None:
        model = onnx.load(path)
        self._values = {t.name: numpy_helper.to_array(t) for t in model.graph.initializer}
        self._convs = [n for n in model.graph.node if n.op_type == "Conv"]

    def kernels(self, *shape: int) -> list[tuple[Weights, Weights]]:
        """The different kernels of a shape with their biases."""
        names = {tuple(n.input[1:3]) for n in self._convs}
        found = [(self._values[a], self._values[b]) for a, b in sorted(names)]
        return [(a.astype(np.float64), b.astype(np.float64)) for a, b in found if a.shape == shape]

    def kernel(self, *shape: int) -> tuple[Weights, Weights]:
        """The only kernel of a shape, frequency down and time across."""
        ((weights, bias),) = self.kernels(*shape)
        return weights.transpose(0, 1, 3, 2), bias

    def named(self, end: str) -> Weights:
        (name,) = [k for k in self._values if k.endswith(end)]
        return self._values[name].astype(np.float64)


def build(path: Path) -> onnx.ModelProto:
    """The model: ``samples`` in, ``onset`` and ``note`` out, (frames, keys)."""
    net, old = _Net(), _Published(path)
    onset, note = _network(net, old, _stacked(net, _spectrum(net, old)))
    for given, name in ((onset, "onset"), (note, "note")):
        flat = net.node("Reshape", given, net.whole(KEYS, FRAMES))
        net.node("Transpose", flat, perm=[1, 0], out=name)
    floats = TensorProto.FLOAT
    graph = helper.make_graph(
        net.nodes,
        "onsets",
        [helper.make_tensor_value_info("samples", floats, [SAMPLES])],
        [helper.make_tensor_value_info(n, floats, [FRAMES, KEYS]) for n in ("onset", "note")],
        list(net.constants.values()),
    )
    model = helper.make_model(graph, opset_imports=[helper.make_opsetid("", 15)], ir_version=8)
    onnx.checker.check_model(model, full_check=True)
    return model


def _spectrum(net: _Net, old: _Published) -> str:
    """Constant-Q power in decibels, brought to one range in each window: (1, 1, bins, frames)."""
    waves = np.concatenate([kernel for kernel, _ in old.kernels(36, 1, 1, TAPS)])
    ((half, _),) = old.kernels(1, 1, 1, TAPS)
    sound, count = net.node("Reshape", "samples", net.whole(1, 1, 1, SAMPLES)), SAMPLES
    octaves = []
    for octave in range(OCTAVES):
        if octave:
            sound, count = _halved(net, half, sound, count)
        edge = [0, 0, 0, TAPS // 2, 0, 0, 0, TAPS // 2]
        mirrored = net.node("Pad", sound, net.whole(*edge), mode="reflect")
        octaves.append(net.conv(mirrored, waves, None, (1, 256 >> octave), (0, 0, 0, 0)))
    both = net.node("Concat", *reversed(octaves), axis=1)
    both = net.node("Reshape", both, net.whole(OCTAVES, 2, 36, FRAMES))
    power = net.node("ReduceSumSquare", both, axes=[1], keepdims=0)
    power = net.node("Reshape", power, net.whole(OCTAVES * 36, FRAMES))
    power = net.cut(power, OCTAVES * 36 - SPECTRUM, OCTAVES * 36, 0)
    lengths = old.named("cq_t2010v2_1/Sqrt").reshape(SPECTRUM, 1) ** 2
    power = net.node("Mul", power, net.floats(lengths))
    log = net.node("Log", net.node("Add", power, net.floats(1e-10)))
    least, most = (net.node(kind, log, keepdims=0) for kind in ("ReduceMin", "ReduceMax"))
    span = net.node("Max", net.node("Sub", most, least), net.floats(1e-12))
    factor = old.named("batch_normalization/FusedBatchNormV3").reshape(())
    shift = old.named("batch_normalization/FusedBatchNormV31").reshape(())
    even = net.node("Mul", net.node("Sub", log, least), net.node("Div", net.floats(factor), span))
    even = net.node("Add", even, net.floats(shift))
    return net.node("Reshape", even, net.whole(1, 1, SPECTRUM, FRAMES))


def _halved(net: _Net, half: Weights, sound: str, count: int) -> tuple[str, int]:
    """The sound at half its rate, and how many samples that gives."""
    kernel, before = folded(half, 1, 16, (1, 2)), TAPS // 2 - 1
    kept = (count + 2 * before - TAPS) // 2 + 1
    blocks = -(-kept // 16)
    after = 32 * (blocks - 1) + kernel.shape[-1] - before - count
    low = net.conv(sound, kernel, None, (1, 32), (0, before, 0, after))
    low = net.node("Transpose", low, perm=[0, 2, 3, 1])
    low = net.node("Reshape", low, net.whole(1, 1, 1, 16 * blocks))
    return net.cut(low, 0, kept, 3), kept


def _stacked(net: _Net, spectrum: str) -> str:
    """The spectrum under itself, moved so that a tone's partials lie in one place."""
    layers = []
    for shift in PARTIALS:
        first, last = max(0, shift), min(SPECTRUM, BINS + shift)
        above = max(0, -shift)
        below = BINS - above - (last - first)
        layer = net.cut(spectrum, first, last, 2)
        layers.append(net.node("Pad", layer, net.whole(0, 0, above, 0, 0, 0, below, 0)))
    return net.node("Concat", *layers, axis=1)


def _network(net: _Net, old: _Published, stacked: str) -> tuple[str, str]:
    """Onset and note, each (1, 1, keys, frames)."""
    kernel, bias = old.kernel(8, 8, 3, 39)
    pairs = net.conv(stacked, folded(kernel, 2, 1), np.tile(bias, 2), (2, 1), (19, 1, 19, 1))
    kernel, bias = old.kernel(1, 8, 5, 5)
    four = folded(kernel, 4, 4).reshape(16, 8, 4, 2, 8)  # its rows lie in pairs, too
    four = four.transpose(0, 3, 1, 2, 4).reshape(16, 16, 4, 8)
    bend = net.conv(net.node("Relu", pairs), four, np.tile(bias, 16), (2, 4), (1, 2, 1, 2))
    bend = net.node("DepthToSpace", net.node("Sigmoid", bend), blocksize=4)
    kernel, bias = old.kernel(32, 1, 7, 7)
    keys = net.node("Relu", net.conv(bend, kernel, bias, (3, 1), (2, 3, 2, 3)))
    kernel, bias = old.kernel(1, 32, 7, 3)
    note = net.conv(keys, folded(kernel, 4, 4), np.tile(bias, 16), (4, 4), (1, 3, 1, 3))
    note = net.node("DepthToSpace", net.node("Sigmoid", note), blocksize=4)
    kernel, bias = old.kernel(32, 8, 5, 5)
    rises = net.node("Relu", net.conv(stacked, kernel, bias, (3, 1), (1, 2, 1, 2)))
    kernel, bias = old.kernel(1, 33, 3, 3)
    four = folded(kernel, 4, 4)
    onset = net.node(
        "Add",
        net.conv(rises, four[:, 1:], np.tile(bias, 16), (4, 4), (1, 1, 1, 1)),
        net.conv(note, four[:, :1], None, (4, 4), (1, 1, 1, 1)),
    )
    return net.node("DepthToSpace", net.node("Sigmoid", onset), blocksize=4), note


def _answers(path: Path) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """What the published model says of the sound that the tests know."""
    import onnxruntime
    from tests.unit.ear.known import known_window

    session = onnxruntime.InferenceSession(str(path), providers=["CPUExecutionProvider"])
    window = known_window(SAMPLES)[None, :, None]
    names = ["StatefulPartitionedCall:2", "StatefulPartitionedCall:1"]
    onset, note = session.run(names, {session.get_inputs()[0].name: window})
    return onset[0], note[0]


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("published", type=Path, help="nmp.onnx as it was published")
    published = parser.parse_args().published
    onnx.save(build(published), MODEL)
    onset, note = (x.astype(np.float16) for x in _answers(published))
    np.savez_compressed(ANSWERS, onset=onset, note=note)
