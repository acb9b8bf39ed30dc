namespace SawEdge.Core.Alarms;

/// <summary>
/// Counts cuts that meet a condition: it holds once enough of the latest do, and is gone after enough in a row that do not. After
/// that the count begins anew, so that what is over is not raised again by its own past. Cuts of which nothing is known do not count.
/// </summary>
internal sealed class CutWatch(CutCount cuts)
{
    private readonly bool[] _window = new bool[cuts.Of];
    private int _next;
    private int _seen;
    private int _met;
    private int _inRow;

    /// <summary>Whether the condition holds; null while too few cuts are known.</summary>
    public bool? Holds { get; private set; }

    /// <summary>Takes a cut of which the condition is known.</summary>
    /// <param name="meets">Whether it meets the condition.</param>
    /// <param name="ends">Whether it lets the condition count as gone: neither, within the deadband.</param>
    public void Push(bool meets, bool ends)
    {
        if (_seen == _window.Length)
            _met -= _window[_next] ? 1 : 0;
        else
            _seen++;
        _window[_next] = meets;
        _next = (_next + 1) % _window.Length;
        _met += meets ? 1 : 0;
        _inRow = ends ? _inRow + 1 : 0;
        if (meets && _met >= cuts.Least)
            Holds = true;
        else if (_inRow >= cuts.ClearAfter)
            End();
    }

    /// <summary>Takes what was found in a cut that still runs and will meet the condition.</summary>
    public void Found()
    {
        var leaves = _seen == _window.Length && _window[_next] ? 1 : 0;
        if (_met - leaves + 1 >= cuts.Least)
            Holds = true;
    }

    /// <summary>Begins anew, as with another blade: the condition is gone.</summary>
    public void Begin()
    {
        Holds = true;
        End();
    }

    private void End()
    {
        if (Holds == true)
        {
            Array.Clear(_window);
            _seen = _met = _next = 0;
        }

        Holds = false;
    }
}
