using SawEdge.Core.Cycles;
using SawEdge.Gateway.Formats.Tables;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Export;

/// <summary>Profiles out of the history, a row a bin.</summary>
internal sealed class ProfileSource : IRowSource
{
    // Columns of the bin itself; all others are those of its cycle.
    private static readonly string[] OfBin = ["bin", "basis", "from_share", "to_share", "depth_from_mm", "depth_to_mm", "time_s", "mean_load_kw", "mean_blade_speed_m_min"];

    private readonly HistoryReader _reader;
    private readonly CycleFilter _filter;
    private readonly string[] _cycleColumns;
    private readonly CellReader _cells;

    // Of each column its place among those of the bin, or of the cycle.
    private readonly (bool IsOfBin, int Index)[] _columns;
    private readonly Queue<(Cell[] Cycle, DepthProfile Profile)> _read = new();
    private CycleKey? _place;
    private bool _ended;
    private int _bin;

    /// <summary>The profiles of the cycles of a filter.</summary>
    public ProfileSource(HistoryReader reader, TableHead head, CycleFilter filter)
    {
        (_reader, Head, _filter) = (reader, head, filter);
        var cycle = head.Columns.Where(column => !OfBin.Contains(column.Name)).ToList();
        _cycleColumns = [.. cycle.Select(column => column.Name)];
        _cells = new CellReader([.. cycle.Select(column => column.Type)]);
        _columns = [.. head.Columns.Select(column => OfBin.Contains(column.Name) ? (true, Array.IndexOf(OfBin, column.Name)) : (false, cycle.IndexOf(column)))];
    }

    /// <inheritdoc/>
    public TableHead Head { get; }

    /// <inheritdoc/>
    /// <remarks>Nearly every cycle has a profile; whether it has could only be told by a look at each.</remarks>
    public async Task<long?> CountAsync(CancellationToken cancellation) => await _reader.CountIndexedAsync(_filter, cancellation) * DepthProfile.DefaultBins;

    /// <inheritdoc/>
    public async Task FillAsync(RowBatch batch, CancellationToken cancellation)
    {
        while (!batch.IsFull)
        {
            if (_read.TryPeek(out var next))
            {
                Add(batch, next.Cycle, next.Profile);
                continue;
            }

            if (_ended)
                return;
            var most = (batch.Capacity - batch.Count + DepthProfile.DefaultBins - 1) / DepthProfile.DefaultBins;
            (var profiles, _place) = await _reader.ProfilePageAsync(_filter, _cycleColumns, _cells, _place, most, cancellation);
            _ended = _place is null;
            foreach (var profile in profiles)
                _read.Enqueue(profile);
        }
    }

    private void Add(RowBatch batch, Cell[] cycle, DepthProfile profile)
    {
        for (; _bin < profile.Seconds.Count; _bin++)
        {
            if (batch.IsFull)
                return;
            var row = batch.Add();
            for (var i = 0; i < _columns.Length; i++)
                row[i] = _columns[i].IsOfBin ? OfProfile(profile, _bin, _columns[i].Index) : cycle[_columns[i].Index];
        }

        _bin = 0;
        _read.Dequeue();
    }

    private static Cell OfProfile(DepthProfile profile, int bin, int column)
    {
        var bins = (double)profile.Seconds.Count;
        return column switch
        {
            0 => Cell.Of(bin + 1L),
            1 => Cell.Of(profile.Basis == ProfileBasis.Depth ? "depth" : "time"),
            2 => Cell.Of(bin / bins),
            3 => Cell.Of((bin + 1) / bins),
            4 => Cell.Of(profile.DepthMm * (bin / bins)),
            5 => Cell.Of(profile.DepthMm * ((bin + 1) / bins)),
            6 => Cell.Of(ShortFloat.ToDouble(profile.Seconds[bin])),
            7 => Cell.Of(ShortFloat.ToDouble(profile.MeanLoadKw[bin])),
            _ => Cell.Of(ShortFloat.ToDouble(profile.MeanBladeSpeedMMin[bin])),
        };
    }
}

/// <summary>
/// Numbers that are stored in 32 bits as doubles that say no more: 0.1 stays 0.1, where a mere cast would make 0.10000000149011612 of it. The
/// same 32 bits come back from it.
/// </summary>
internal static class ShortFloat
{
    /// <summary>The double of the shortest decimal text that reads back to a number of 32 bits.</summary>
    public static double ToDouble(float value)
    {
        if (value == 0 || !float.IsFinite(value))
            return value;

        // Six digits are always told apart, nine always tell (IEEE 754, 5.12.2). A quotient of two whole numbers below 2^53 is the double nearest to that decimal.
        var exact = (double)value;
        var exponent = (int)Math.Floor(Math.Log10(Math.Abs(exact)));
        for (var decimals = 5 - exponent; decimals <= 8 - exponent; decimals++)
        {
            if (decimals is < 0 or > 22)
                break;
            var scale = Scales[decimals];
            var shorter = Math.Round(exact * scale) / scale;
            if ((float)shorter == value)
                return shorter;
        }

        return double.Parse(value.ToString("R", System.Globalization.CultureInfo.InvariantCulture), System.Globalization.CultureInfo.InvariantCulture);
    }

    // Powers of ten up to the greatest that a double holds exactly.
    private static readonly double[] Scales = [1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22];
}
