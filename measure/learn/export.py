"""Writes a trained network as two files that OpenCV runs: weights in half precision, and the facts beside them."""

import json
import warnings
from dataclasses import asdict
from io import BytesIO
from pathlib import Path

import numpy as np
import onnx
import torch
from onnx import ModelProto, TensorProto, helper, numpy_helper

from measure.by_network import Facts
from measure.learn.network import OutlineNetwork

_FEW = 64  # numbers; shorter lists stay in single precision, they weigh nothing


def write_network(network: OutlineNetwork, facts: Facts, path: Path) -> None:
    """Write ``path`` (.onnx) and the facts beside it (.json)."""
    onnx.save(halved(exported(network, facts.side)), str(path))
    path.with_suffix(".json").write_text(json.dumps(asdict(facts), indent=2) + "\n", encoding="utf-8")


def exported(network: OutlineNetwork, side: int) -> ModelProto:
    """Give a network the form of ONNX, for pictures of ``side`` x ``side`` px."""
    file = BytesIO()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # this exporter folds normalisation into the filters, its successor does not
        torch.onnx.export(
            network.eval(),
            (torch.zeros(1, 3, side, side),),
            file,
            input_names=["photo"],
            output_names=["logit"],
            opset_version=17,
            dynamo=False,
        )
    return onnx.load_model_from_string(file.getvalue())


def halved(model: ModelProto) -> ModelProto:
    """Store the weights in half precision; they are made single again when the file is read."""
    kept, casts = [], []
    for tensor in model.graph.initializer:
        values = numpy_helper.to_array(tensor)
        if values.dtype != np.float32 or values.size <= _FEW:
            kept.append(tensor)
            continue
        name = f"{tensor.name}_half"
        kept.append(numpy_helper.from_array(values.astype(np.float16), name))
        casts.append(helper.make_node("Cast", [name], [tensor.name], to=TensorProto.FLOAT))
    graph = helper.make_graph(
        [*casts, *model.graph.node], model.graph.name, model.graph.input, model.graph.output, kept
    )
    return helper.make_model(graph, opset_imports=model.opset_import, ir_version=model.ir_version)
