using SawEdge.Core.Notation;

namespace SawEdge.Core.Sections;

/// <summary>The sizes and words that follow a shape's name, each size by its label or its place.</summary>
internal sealed class NotationSizes
{
    private static readonly Dictionary<string, string> LabelNames = new(StringComparer.Ordinal)
    {
        ["od"] = "od",
        ["outside"] = "od",
        ["dia"] = "od",
        ["diameter"] = "od",
        ["id"] = "id",
        ["inside"] = "id",
        ["wall"] = "wall",
        ["thick"] = "thickness",
        ["thickness"] = "thickness",
        ["af"] = "across flats",
        ["width"] = "width",
        ["wide"] = "width",
        ["height"] = "height",
        ["high"] = "height",
        ["corner"] = "corner",
        ["inner-corner"] = "inner corner",
        ["root"] = "root",
        ["toe"] = "toe",
        ["taper"] = "taper",
        ["turned"] = "turned",
        ["mitre"] = "mitre",
        ["miter"] = "mitre",
        ["web"] = "web",
        ["flange"] = "flange",
        ["flange-at"] = "flange at",
    };

    private readonly Shape _shape;
    private readonly List<Size> _sizes = [];
    private readonly List<string> _words = [];
    private readonly int _end;

    /// <summary>Reads what follows the shape's name.</summary>
    public NotationSizes(Shape shape, List<Token> tokens, int from, int end)
    {
        _shape = shape;
        _end = end;
        Collect(tokens, from);
        GiveUnits();
        GivePlaces();
    }

    /// <summary>What is wrong so far.</summary>
    public List<NotationError> Errors { get; } = [];

    /// <summary>A size that must be there, mm.</summary>
    public double Need(string label)
    {
        if (Find(label) is { } found)
            return found;
        Errors.Add(new NotationError(_end, $"{_shape.Names[0]} needs its {label}; write for example '{_shape.Example}'."));
        throw new SectionException($"{label} is missing.");
    }

    /// <summary>A size that may be there: mm, degrees or percent; null where it is not.</summary>
    public double? Find(string label)
    {
        foreach (var size in _sizes)
        {
            if (size.Label == label)
                return size.Value * size.Factor;
        }

        return null;
    }

    /// <summary>Whether a word is there.</summary>
    public bool Says(string words) => _words.Contains(words);

    /// <summary>How far the section is turned, degrees: by an angle, by words of orientation, or both.</summary>
    /// <param name="words">What each word turns by.</param>
    public double Turn(params ReadOnlySpan<(string Words, double Degrees)> words)
    {
        var turn = Find("turned") ?? 0;
        foreach (var (word, degrees) in words)
            turn += _words.Contains(word) ? degrees : 0;
        return turn;
    }

    private void Collect(List<Token> tokens, int from)
    {
        var label = "";
        for (var i = from; i < tokens.Count; i++)
        {
            var token = tokens[i];
            if (token.Kind == TokenKind.Number)
            {
                i = CollectSize(tokens, i, label);
                label = "";
            }
            else if (token.Kind == TokenKind.Word)
            {
                i = CollectWord(tokens, i, ref label);
            }
            else if (token.Kind is not (TokenKind.Times or TokenKind.Comma))
            {
                Errors.Add(new NotationError(token.Position, $"'{token.Text}' has no meaning here; write for example '{_shape.Example}'."));
            }
            else if (token.Kind == TokenKind.Times && (i + 1 == tokens.Count || tokens[i + 1].Kind != TokenKind.Number))
            {
                Errors.Add(new NotationError(token.Position, $"a size is missing after 'x'; write for example '{_shape.Example}'."));
            }
        }
    }

    private int CollectSize(List<Token> tokens, int i, string label)
    {
        var size = new Size { Value = tokens[i].Value, Position = tokens[i].Position, Label = label };
        if (i + 1 < tokens.Count && tokens[i + 1].Kind == TokenKind.Percent)
        {
            size.Factor = 0.01;
            i++;
        }
        else if (i + 1 < tokens.Count && tokens[i + 1].Kind == TokenKind.Word)
        {
            var unit = tokens[i + 1].Text;
            if (unit is "deg" or "degree" or "degrees")
                size.Factor = 1;
            else
                size.Factor = Lengths.MillimetresPer(unit) ?? double.NaN;
            if (!double.IsNaN(size.Factor))
                i++;
        }

        _sizes.Add(size);
        return i;
    }

    private int CollectWord(List<Token> tokens, int i, ref string label)
    {
        var token = tokens[i];
        var text = token.Text;
        if (i + 1 < tokens.Count && LabelNames.ContainsKey(text + "-" + tokens[i + 1].Text))
            text += "-" + tokens[++i].Text;
        if (text == "by")
            return i;
        if (i + 1 < tokens.Count && _shape.Words.Contains(text + " " + tokens[i + 1].Text))
        {
            _words.Add(text + " " + tokens[i + 1].Text);
            return i + 1;
        }

        if (LabelNames.TryGetValue(text, out var name) && (_shape.Labels.Contains(name) || name == "mitre" || (name == "turned" && _shape.Turns)))
        {
            // A label names the size after it, or, where none follows at once, the size before it.
            if (i + 1 < tokens.Count && tokens[i + 1].Kind == TokenKind.Number)
                label = name;
            else if (_sizes.Count > 0 && _sizes[^1].Label.Length == 0)
                _sizes[^1].Label = name;
            else
                Errors.Add(new NotationError(token.Position, $"'{token.Text}' stands beside no size; write for example '{_shape.Example}'."));
            return i;
        }

        if (_shape.Words.Contains(text))
            _words.Add(text);
        else if (_sizes.Count > 0 && double.IsNaN(_sizes[^1].Factor) && i > 0 && tokens[i - 1].Kind == TokenKind.Number)
            Errors.Add(new NotationError(token.Position, $"'{token.Text}' is no known unit; known are mm, cm, m, in and ft."));
        else
            Errors.Add(new NotationError(token.Position, $"'{token.Text}' has no meaning for {_shape.Names[0]}; write for example '{_shape.Example}'."));
        return i;
    }

    private void GiveUnits()
    {
        var unit = double.NaN;
        for (var pass = 0; pass < 2; pass++)
        {
            // First from the right to the left, so that "100 x 50 mm" works; then what is still bare takes the unit before it.
            for (var k = 0; k < _sizes.Count; k++)
            {
                var size = _sizes[pass == 0 ? _sizes.Count - 1 - k : k];
                if (size.Label is "mitre" or "turned" or "taper")
                    size.Factor = double.IsNaN(size.Factor) ? (size.Label == "taper" ? 0.01 : 1) : size.Factor;
                else if (double.IsNaN(size.Factor))
                    size.Factor = unit;
                else
                    unit = size.Factor;
            }

            unit = double.NaN;
        }

        foreach (var size in _sizes.Where(s => double.IsNaN(s.Factor)))
            Errors.Add(new NotationError(size.Position, $"{size.Value} has no unit; write mm or in after it."));
    }

    private void GivePlaces()
    {
        var places = new Queue<string>(_shape.Places.Where(p => !_sizes.Exists(s => s.Label == p)));
        foreach (var size in _sizes)
        {
            if (size.Label.Length > 0)
                continue;
            if (places.TryDequeue(out var place))
                size.Label = place;
            else
                Errors.Add(new NotationError(size.Position, $"one size too many; {_shape.Names[0]} takes {string.Join(" x ", _shape.Places)}, for example '{_shape.Example}'."));
        }
    }

    private sealed class Size
    {
        public required double Value { get; init; }

        public required int Position { get; init; }

        public string Label { get; set; } = "";

        /// <summary>What turns the value into mm, degrees or a share; NaN until it is known.</summary>
        public double Factor { get; set; } = double.NaN;
    }
}
