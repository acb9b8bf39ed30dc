using System.Text.Json;
using System.Xml.Linq;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Formats.Tables;

/// <summary>A cell as another program reads it: its type (n number, d date, s text, b flag, f formula) and its value.</summary>
internal sealed record ReadCell(string Type, JsonElement Value);

/// <summary>A sheet as another program reads it.</summary>
internal sealed record ReadSheet(string Name, string? Frozen, string? Filter, bool IsHeaderBold, IReadOnlyList<double> Widths, IReadOnlyList<IReadOnlyList<ReadCell>> Rows);

/// <summary>Programs of Debian's that read workbooks: openpyxl, for each value to its last digit, and LibreOffice, for what people see.</summary>
internal static class WorkbookPeers
{
    public const string Python = "/usr/bin/python3";
    public const string Openpyxl = "/usr/lib/python3/dist-packages/openpyxl/__init__.py";
    public const string LibreOffice = "soffice";

    // Texts decoded as ISO/IEC 29500-1, 22.9.2.19 says, which openpyxl leaves to its callers; moments as milliseconds since 1970.
    private const string Script = """
        import datetime, json, re, sys
        import openpyxl
        def value(cell):
            if cell.data_type == 's':
                return re.sub('_x([0-9A-Fa-f]{4})_', lambda match: chr(int(match[1], 16)), cell.value)
            if cell.data_type == 'd':
                return round((cell.value - datetime.datetime(1970, 1, 1)) / datetime.timedelta(milliseconds=1), 3)
            return cell.value
        sheets = []
        for sheet in openpyxl.load_workbook(sys.argv[1]):
            rows = [[{'Type': cell.data_type, 'Value': value(cell)} for cell in row] for row in sheet.iter_rows()]
            widths = [sheet.column_dimensions[openpyxl.utils.get_column_letter(i + 1)].width for i in range(sheet.max_column)]
            sheets.append({'Name': sheet.title, 'Frozen': sheet.freeze_panes, 'Filter': sheet.auto_filter.ref, 'IsHeaderBold': all(cell.font.b for cell in sheet[1]), 'Widths': widths, 'Rows': rows})
        print(json.dumps(sheets))
        """;

    public static async Task<IReadOnlyList<ReadSheet>> ByOpenpyxlAsync(string path)
    {
        var (exit, output) = await Peer.RunAsync(Python, ["-c", Script, path], new Dictionary<string, string> { ["PYTHONIOENCODING"] = "utf-8" });
        Assert.True(exit == 0, output);
        return JsonSerializer.Deserialize<List<ReadSheet>>(output)!;
    }

    /// <summary>Each sheet as LibreOffice shows it, by the sheet's name.</summary>
    public static async Task<IReadOnlyDictionary<string, List<List<string>>>> ByLibreOfficeAsync(TempFolder folder, string path)
    {
        // Comma, double quote, UTF-8, all sheets (token 12), cells as they are shown.
        await ConvertAsync(folder, path, "csv:Text - txt - csv (StarCalc):44,34,76,1,,0,false,true,false,false,false,-1");
        var prefix = Path.GetFileNameWithoutExtension(path) + "-";
        return Directory.GetFiles(folder.Path, prefix + "*.csv").ToDictionary(file => Path.GetFileNameWithoutExtension(file)[prefix.Length..], file => Fields(File.ReadAllText(file)));
    }

    /// <summary>The formulas that LibreOffice found.</summary>
    public static async Task<IReadOnlyList<string>> FormulasByLibreOfficeAsync(TempFolder folder, string path)
    {
        await ConvertAsync(folder, path, "fods");
        return [.. XDocument.Load(Path.ChangeExtension(path, "fods")).Descendants().Attributes().Where(attribute => attribute.Name.LocalName == "formula").Select(attribute => attribute.Value)];
    }

    private static async Task ConvertAsync(TempFolder folder, string path, string to)
    {
        // A profile of its own: two LibreOffices with one profile wait for each other.
        var (exit, output) = await Peer.RunAsync(LibreOffice, [$"-env:UserInstallation=file://{folder.File("profile")}", "--headless", "--convert-to", to, "--outdir", folder.Path, path]);
        Assert.True(exit == 0 && !output.Contains("Error", StringComparison.Ordinal), output);
    }

    // RFC 4180 with line ends within quotes.
    private static List<List<string>> Fields(string csv)
    {
        var (rows, row, field, quoted) = (new List<List<string>>(), new List<string>(), new System.Text.StringBuilder(), false);
        for (var i = 0; i < csv.Length; i++)
        {
            if (quoted)
            {
                if (csv[i] != '"')
                    field.Append(csv[i]);
                else if (i + 1 < csv.Length && csv[i + 1] == '"')
                    field.Append(csv[i++]);
                else
                    quoted = false;
            }
            else if (csv[i] == '"')
            {
                quoted = true;
            }
            else if (csv[i] is ',' or '\n')
            {
                row.Add(field.ToString());
                field.Clear();
                if (csv[i] == ',')
                    continue;
                rows.Add(row);
                row = [];
            }
            else
            {
                field.Append(csv[i]);
            }
        }

        return rows;
    }
}
